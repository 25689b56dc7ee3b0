using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Sqlite
{
    /// <inheritdoc />
    public partial class CoastByDay : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<DateOnly>(
                name: "FishedOn",
                table: "touched",
                type: "TEXT",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "coasts",
                columns: table => new
                {
                    Species = table.Column<string>(type: "TEXT", maxLength: 3, nullable: false),
                    Day = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    OpenedAt = table.Column<DateTime>(type: "TEXT", nullable: false),
                    Reports = table.Column<int>(type: "INTEGER", nullable: false),
                    Body = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_coasts", x => x.Species);
                });
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "coasts");

            migrationBuilder.DropColumn(
                name: "FishedOn",
                table: "touched");
        }
    }
}
