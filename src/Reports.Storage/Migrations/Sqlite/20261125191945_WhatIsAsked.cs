using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Sqlite
{
    /// <inheritdoc />
    public partial class WhatIsAsked : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "IX_reports_Zone",
                table: "reports");

            migrationBuilder.DropIndex(
                name: "IX_departures_Zone",
                table: "departures");

            migrationBuilder.DropIndex(
                name: "IX_boats_Landing",
                table: "boats");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateIndex(
                name: "IX_reports_Zone",
                table: "reports",
                column: "Zone");

            migrationBuilder.CreateIndex(
                name: "IX_departures_Zone",
                table: "departures",
                column: "Zone");

            migrationBuilder.CreateIndex(
                name: "IX_boats_Landing",
                table: "boats",
                column: "Landing");
        }
    }
}
