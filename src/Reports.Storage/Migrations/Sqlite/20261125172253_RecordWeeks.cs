using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Sqlite
{
    /// <inheritdoc />
    public partial class RecordWeeks : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "record_weeks",
                columns: table => new
                {
                    Species = table.Column<string>(type: "TEXT", maxLength: 3, nullable: false),
                    Origin = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    ComputedAt = table.Column<DateTime>(type: "TEXT", nullable: false),
                    Body = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_record_weeks", x => new { x.Species, x.Origin });
                });
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "record_weeks");
        }
    }
}
