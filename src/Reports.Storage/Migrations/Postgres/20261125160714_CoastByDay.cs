using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Postgres
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
                type: "date",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "coasts",
                columns: table => new
                {
                    Species = table.Column<string>(type: "character varying(3)", maxLength: 3, nullable: false),
                    Day = table.Column<DateOnly>(type: "date", nullable: false),
                    OpenedAt = table.Column<DateTime>(type: "timestamp with time zone", nullable: false),
                    Reports = table.Column<int>(type: "integer", nullable: false),
                    Body = table.Column<string>(type: "text", nullable: false)
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
