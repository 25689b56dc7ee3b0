using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Sqlite
{
    /// <inheritdoc />
    public partial class KeysByIdempotencyAndUse : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "IX_report_versions_Credential_IdempotencyKey",
                table: "report_versions");

            migrationBuilder.AddColumn<DateTime>(
                name: "LastUsedAt",
                table: "api_keys",
                type: "TEXT",
                nullable: true);

            migrationBuilder.CreateIndex(
                name: "IX_report_versions_IdempotencyKey_Credential",
                table: "report_versions",
                columns: new[] { "IdempotencyKey", "Credential" },
                unique: true);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "IX_report_versions_IdempotencyKey_Credential",
                table: "report_versions");

            migrationBuilder.DropColumn(
                name: "LastUsedAt",
                table: "api_keys");

            migrationBuilder.CreateIndex(
                name: "IX_report_versions_Credential_IdempotencyKey",
                table: "report_versions",
                columns: new[] { "Credential", "IdempotencyKey" },
                unique: true);
        }
    }
}
