using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Postgres
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
                    Species = table.Column<string>(type: "character varying(3)", maxLength: 3, nullable: false),
                    Origin = table.Column<DateOnly>(type: "date", nullable: false),
                    ComputedAt = table.Column<DateTime>(type: "timestamp with time zone", nullable: false),
                    Body = table.Column<string>(type: "text", nullable: false)
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
