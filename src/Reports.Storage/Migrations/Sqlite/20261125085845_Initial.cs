using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Reports.Storage.Migrations.Sqlite
{
    /// <inheritdoc />
    public partial class Initial : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "api_keys",
                columns: table => new
                {
                    Id = table.Column<string>(type: "TEXT", maxLength: 32, nullable: false),
                    Name = table.Column<string>(type: "TEXT", nullable: false),
                    Hash = table.Column<byte[]>(type: "BLOB", nullable: false),
                    Scope = table.Column<string>(type: "TEXT", maxLength: 20, nullable: false),
                    Owner = table.Column<string>(type: "TEXT", nullable: true),
                    CreatedAt = table.Column<DateTime>(type: "TEXT", nullable: false),
                    RevokedAt = table.Column<DateTime>(type: "TEXT", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_api_keys", x => x.Id);
                });

            migrationBuilder.CreateTable(
                name: "briefs",
                columns: table => new
                {
                    Zone = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Species = table.Column<string>(type: "TEXT", maxLength: 3, nullable: false),
                    Version = table.Column<int>(type: "INTEGER", nullable: false),
                    AsOf = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    ComputedAt = table.Column<DateTime>(type: "TEXT", nullable: false),
                    Pooled = table.Column<bool>(type: "INTEGER", nullable: false),
                    Body = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_briefs", x => new { x.Zone, x.Species, x.Version });
                });

            migrationBuilder.CreateTable(
                name: "epochs",
                columns: table => new
                {
                    Day = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    OpenedAt = table.Column<DateTime>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_epochs", x => x.Day);
                });

            migrationBuilder.CreateTable(
                name: "landings",
                columns: table => new
                {
                    Code = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Name = table.Column<string>(type: "TEXT", nullable: false),
                    TimeZone = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_landings", x => x.Code);
                });

            migrationBuilder.CreateTable(
                name: "species",
                columns: table => new
                {
                    Code = table.Column<string>(type: "TEXT", maxLength: 3, nullable: false),
                    Name = table.Column<string>(type: "TEXT", nullable: false),
                    ScientificName = table.Column<string>(type: "TEXT", nullable: false),
                    Kind = table.Column<string>(type: "TEXT", maxLength: 20, nullable: false),
                    ClosedNotice = table.Column<string>(type: "TEXT", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_species", x => x.Code);
                });

            migrationBuilder.CreateTable(
                name: "touched",
                columns: table => new
                {
                    Id = table.Column<long>(type: "INTEGER", nullable: false)
                        .Annotation("Sqlite:Autoincrement", true),
                    Zone = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Species = table.Column<string>(type: "TEXT", maxLength: 3, nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_touched", x => x.Id);
                });

            migrationBuilder.CreateTable(
                name: "zones",
                columns: table => new
                {
                    Code = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Name = table.Column<string>(type: "TEXT", nullable: false),
                    Area = table.Column<string>(type: "TEXT", nullable: false),
                    Reach = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_zones", x => x.Code);
                });

            migrationBuilder.CreateTable(
                name: "boats",
                columns: table => new
                {
                    Code = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Name = table.Column<string>(type: "TEXT", nullable: false),
                    Landing = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_boats", x => x.Code);
                    table.ForeignKey(
                        name: "FK_boats_landings_Landing",
                        column: x => x.Landing,
                        principalTable: "landings",
                        principalColumn: "Code",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "landing_bait",
                columns: table => new
                {
                    Landing = table.Column<string>(type: "TEXT", nullable: false),
                    Date = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    Body = table.Column<string>(type: "TEXT", nullable: false),
                    Measures = table.Column<string>(type: "TEXT", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_landing_bait", x => new { x.Landing, x.Date });
                    table.ForeignKey(
                        name: "FK_landing_bait_landings_Landing",
                        column: x => x.Landing,
                        principalTable: "landings",
                        principalColumn: "Code",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "departures",
                columns: table => new
                {
                    Boat = table.Column<string>(type: "TEXT", nullable: false),
                    Date = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    Sailing = table.Column<int>(type: "INTEGER", nullable: false),
                    TripDays = table.Column<decimal>(type: "TEXT", precision: 6, scale: 2, nullable: true),
                    Kind = table.Column<string>(type: "TEXT", maxLength: 20, nullable: true),
                    Anglers = table.Column<int>(type: "INTEGER", nullable: true),
                    Capacity = table.Column<int>(type: "INTEGER", nullable: true),
                    Zone = table.Column<string>(type: "TEXT", nullable: true),
                    Status = table.Column<string>(type: "TEXT", maxLength: 20, nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_departures", x => new { x.Boat, x.Date, x.Sailing });
                    table.ForeignKey(
                        name: "FK_departures_boats_Boat",
                        column: x => x.Boat,
                        principalTable: "boats",
                        principalColumn: "Code",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "FK_departures_zones_Zone",
                        column: x => x.Zone,
                        principalTable: "zones",
                        principalColumn: "Code",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "reports",
                columns: table => new
                {
                    Id = table.Column<string>(type: "TEXT", maxLength: 32, nullable: false),
                    Boat = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Zone = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    FishedOn = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    Sailing = table.Column<int>(type: "INTEGER", nullable: false),
                    Version = table.Column<int>(type: "INTEGER", nullable: false),
                    State = table.Column<string>(type: "TEXT", maxLength: 20, nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_reports", x => x.Id);
                    table.ForeignKey(
                        name: "FK_reports_boats_Boat",
                        column: x => x.Boat,
                        principalTable: "boats",
                        principalColumn: "Code",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "FK_reports_zones_Zone",
                        column: x => x.Zone,
                        principalTable: "zones",
                        principalColumn: "Code",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "report_versions",
                columns: table => new
                {
                    ReportId = table.Column<string>(type: "TEXT", maxLength: 32, nullable: false),
                    Version = table.Column<int>(type: "INTEGER", nullable: false),
                    StoredAt = table.Column<DateTime>(type: "TEXT", nullable: false),
                    Boat = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    Zone = table.Column<string>(type: "TEXT", maxLength: 40, nullable: false),
                    FishedOn = table.Column<DateOnly>(type: "TEXT", nullable: false),
                    State = table.Column<string>(type: "TEXT", maxLength: 20, nullable: false),
                    Body = table.Column<string>(type: "TEXT", nullable: false),
                    Measures = table.Column<string>(type: "TEXT", nullable: false),
                    Credential = table.Column<string>(type: "TEXT", maxLength: 32, nullable: false),
                    IdempotencyKey = table.Column<Guid>(type: "TEXT", nullable: true),
                    RequestHash = table.Column<byte[]>(type: "BLOB", maxLength: 32, nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("PK_report_versions", x => new { x.ReportId, x.Version });
                    table.ForeignKey(
                        name: "FK_report_versions_reports_ReportId",
                        column: x => x.ReportId,
                        principalTable: "reports",
                        principalColumn: "Id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "IX_api_keys_Hash",
                table: "api_keys",
                column: "Hash",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "IX_boats_Landing",
                table: "boats",
                column: "Landing");

            migrationBuilder.CreateIndex(
                name: "IX_departures_Date",
                table: "departures",
                column: "Date");

            migrationBuilder.CreateIndex(
                name: "IX_departures_Zone",
                table: "departures",
                column: "Zone");

            migrationBuilder.CreateIndex(
                name: "IX_report_versions_Credential_IdempotencyKey",
                table: "report_versions",
                columns: new[] { "Credential", "IdempotencyKey" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "IX_report_versions_FishedOn",
                table: "report_versions",
                column: "FishedOn");

            migrationBuilder.CreateIndex(
                name: "IX_reports_Boat_FishedOn_Zone_Sailing",
                table: "reports",
                columns: new[] { "Boat", "FishedOn", "Zone", "Sailing" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "IX_reports_FishedOn_Id",
                table: "reports",
                columns: new[] { "FishedOn", "Id" });

            migrationBuilder.CreateIndex(
                name: "IX_reports_Zone",
                table: "reports",
                column: "Zone");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "api_keys");

            migrationBuilder.DropTable(
                name: "briefs");

            migrationBuilder.DropTable(
                name: "departures");

            migrationBuilder.DropTable(
                name: "epochs");

            migrationBuilder.DropTable(
                name: "landing_bait");

            migrationBuilder.DropTable(
                name: "report_versions");

            migrationBuilder.DropTable(
                name: "species");

            migrationBuilder.DropTable(
                name: "touched");

            migrationBuilder.DropTable(
                name: "reports");

            migrationBuilder.DropTable(
                name: "boats");

            migrationBuilder.DropTable(
                name: "zones");

            migrationBuilder.DropTable(
                name: "landings");
        }
    }
}
