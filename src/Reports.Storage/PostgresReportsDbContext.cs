using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;
using Npgsql;
using Reports.Domain.Reporting;

namespace Reports.Storage;

/// <summary>PostgreSQL, for a fleet: several web and worker processes.</summary>
public sealed class PostgresReportsDbContext(DbContextOptions<PostgresReportsDbContext> options)
    : ReportsDbContext(options)
{
    private const int MostInOneStatement = 256;

    private const string KeyArrays = """unnest($1, $2, $3, $4) AS k("Boat", "Zone", "FishedOn", "Sailing")""";

    /// <summary>
    /// Each key is a look into an index. As long as a table was not analyzed the planner would rather read the whole of it, or sort a
    /// boat's whole past; so it is asked once, for any keys, and told not to.
    /// </summary>
    private static readonly string[] Planning =
    [
        "SET LOCAL plan_cache_mode = force_generic_plan",
        "SET LOCAL enable_seqscan = off",
    ];

    private const string StandingStatement = $"""
        SELECT r.* FROM {KeyArrays} CROSS JOIN LATERAL (
            SELECT "Id", "Boat", "Zone", "FishedOn", "Sailing", "Version", "State" FROM reports
            WHERE "Boat" = k."Boat" AND "FishedOn" = k."FishedOn" AND "Zone" = k."Zone" AND "Sailing" = k."Sailing" LIMIT 1) r
        """;

    private const string EarlierStatement = """
        SELECT "ReportId", "Version", "StoredAt", "Boat", "Zone", "FishedOn", "State", "Body", "Measures", "Credential",
            "IdempotencyKey", "RequestHash"
        FROM report_versions WHERE "IdempotencyKey" = ANY ($1)
        """;

    /// <summary>What is not counted is left out one by one: of an equality the planner believes that one row in 200 has it, and sorts.</summary>
    private static readonly string BeforeStatement = $"""
        SELECT v.* FROM {KeyArrays} CROSS JOIN LATERAL (
            SELECT "Id", "Version" FROM reports
            WHERE "Boat" = k."Boat" AND "FishedOn" < k."FishedOn"
                AND "State" NOT IN ({string.Join(
            ", ",
            Enum.GetValues<ReportState>().Where(s => s != ReportState.Counted).Select(s => $"'{s}'")
        )})
            ORDER BY "FishedOn" DESC, "Zone" DESC, "Sailing" DESC LIMIT 1) r CROSS JOIN LATERAL (
            SELECT "Boat", "FishedOn", "Measures" FROM report_versions
            WHERE "ReportId" = r."Id" AND "Version" = r."Version" LIMIT 1) v
        """;

    protected override string KeysTable =>
        """jsonb_to_recordset({0}::jsonb) AS k("Boat" text, "Zone" text, "FishedOn" date, "Sailing" int)""";

    public override bool IsDuplicate(Exception exception) => State(exception) == PostgresErrorCodes.UniqueViolation;

    public override bool IsLostRace(Exception exception) =>
        base.IsLostRace(exception)
        || State(exception) is PostgresErrorCodes.DeadlockDetected or PostgresErrorCodes.SerializationFailure;

    /// <summary>
    /// All three questions go to the server and back once, and past EF: they are asked for every set of reports, and the
    /// larger part of their price was paid in this process.
    /// </summary>
    public override async Task<Known> KnownAsync(
        IReadOnlyCollection<ReportKey> keys,
        IReadOnlyCollection<Guid> idempotencyKeys,
        IReadOnlyCollection<ReportKey> lookingBack,
        CancellationToken ct
    )
    {
        await using var batch = ((NpgsqlConnection)Database.GetDbConnection()).CreateBatch();
        foreach (var planning in Planning)
        {
            batch.BatchCommands.Add(new(planning));
        }

        batch.BatchCommands.Add(AboutKeys(StandingStatement, [.. keys.Distinct()]));
        batch.BatchCommands.Add(
            new(EarlierStatement)
            {
                Parameters = { new NpgsqlParameter<Guid[]> { TypedValue = [.. idempotencyKeys.Distinct()] } },
            }
        );
        batch.BatchCommands.Add(AboutKeys(BeforeStatement, [.. BoatDays(lookingBack)]));
        await using var reader = await batch.ExecuteReaderAsync(ct);
        var standing = await RowsAsync(reader, Head, ct);
        await reader.NextResultAsync(ct);
        var earlier = await RowsAsync(reader, Version, ct);
        await reader.NextResultAsync(ct);
        var before = await RowsAsync(
            reader,
            r => new BoatReport(r.GetString(0), r.GetFieldValue<DateOnly>(1), r.GetString(2)),
            ct
        );
        Reports.AttachRange(standing);
        return new(standing, earlier, before);
    }

    private static NpgsqlBatchCommand AboutKeys(string statement, ReportKey[] keys) =>
        new(statement)
        {
            Parameters =
            {
                new NpgsqlParameter<string[]> { TypedValue = Array.ConvertAll(keys, k => k.Boat) },
                new NpgsqlParameter<string[]> { TypedValue = Array.ConvertAll(keys, k => k.Zone) },
                new NpgsqlParameter<DateOnly[]> { TypedValue = Array.ConvertAll(keys, k => k.FishedOn) },
                new NpgsqlParameter<int[]> { TypedValue = Array.ConvertAll(keys, k => k.Sailing) },
            },
        };

    private static async Task<List<T>> RowsAsync<T>(
        NpgsqlDataReader reader,
        Func<NpgsqlDataReader, T> row,
        CancellationToken ct
    )
    {
        var rows = new List<T>();
        while (await reader.ReadAsync(ct))
        {
            rows.Add(row(reader));
        }

        return rows;
    }

    private static ReportRow Head(NpgsqlDataReader row) =>
        new()
        {
            Id = row.GetString(0),
            Boat = row.GetString(1),
            Zone = row.GetString(2),
            FishedOn = row.GetFieldValue<DateOnly>(3),
            Sailing = row.GetInt32(4),
            Version = row.GetInt32(5),
            State = Enum.Parse<ReportState>(row.GetString(6)),
        };

    private static ReportVersionRow Version(NpgsqlDataReader row) =>
        new()
        {
            ReportId = row.GetString(0),
            Version = row.GetInt32(1),
            StoredAt = row.GetFieldValue<DateTimeOffset>(2),
            Boat = row.GetString(3),
            Zone = row.GetString(4),
            FishedOn = row.GetFieldValue<DateOnly>(5),
            State = Enum.Parse<ReportState>(row.GetString(6)),
            Body = row.GetString(7),
            Measures = row.GetString(8),
            Credential = row.GetString(9),
            IdempotencyKey = row.GetGuid(10),
            RequestHash = row.IsDBNull(11) ? null : row.GetFieldValue<byte[]>(11),
        };

    /// <summary>Binary COPY of many rows; few are cheaper as a prepared statement.</summary>
    public override async Task InsertAllAsync<T>(IReadOnlyCollection<T> rows, CancellationToken ct)
    {
        if (rows.Count <= MostInOneStatement)
        {
            await ExecuteAsync([InsertOf(rows)], ct);
            return;
        }

        var (table, columns) = TableOf<T>();
        var connection = (NpgsqlConnection)Database.GetDbConnection();
        await using var copy = await connection.BeginBinaryImportAsync(
            $"""COPY {table} ({string.Join(", ", columns.Select(c => $"\"{c.Name}\""))}) FROM STDIN (FORMAT BINARY)""",
            ct
        );
        foreach (var row in rows)
        {
            await copy.StartRowAsync(ct);
            foreach (var column in columns)
            {
                if (column.Value(row) is { } value)
                {
                    await copy.WriteAsync(value, column.StoreType, ct);
                }
                else
                {
                    await copy.WriteNullAsync(ct);
                }
            }
        }

        await copy.CompleteAsync(ct);
    }

    /// <summary>Few rows go to the server and back once for all tables, and with them the word that ends the transaction.</summary>
    public override async Task InsertAllAndCommitAsync<T1, T2, T3>(
        IReadOnlyCollection<T1> first,
        IReadOnlyCollection<T2> second,
        IReadOnlyCollection<T3> third,
        CancellationToken ct
    )
    {
        if (Math.Max(first.Count, Math.Max(second.Count, third.Count)) > MostInOneStatement)
        {
            await base.InsertAllAndCommitAsync(first, second, third, ct);
            return;
        }

        await ExecuteAsync([InsertOf(first), InsertOf(second), InsertOf(third), new("COMMIT")], ct);

        // Of a transaction that the server ended nothing is left but what this side keeps of it.
        await Database.CurrentTransaction!.DisposeAsync();
    }

    private async Task ExecuteAsync(IEnumerable<NpgsqlBatchCommand?> commands, CancellationToken ct)
    {
        await using var batch = ((NpgsqlConnection)Database.GetDbConnection()).CreateBatch();
        foreach (var command in commands.OfType<NpgsqlBatchCommand>())
        {
            batch.BatchCommands.Add(command);
        }

        if (batch.BatchCommands.Count > 0)
        {
            await batch.ExecuteNonQueryAsync(ct);
        }
    }

    /// <summary>One statement, the same text for any number of rows: an array for each column. Null for no rows.</summary>
    private NpgsqlBatchCommand? InsertOf<T>(IReadOnlyCollection<T> rows)
        where T : class
    {
        if (rows.Count == 0)
        {
            return null;
        }

        var (table, columns) = TableOf<T>();
        var command = new NpgsqlBatchCommand(
            $"""INSERT INTO {table} ({string.Join(", ", columns.Select(c => $"\"{c.Name}\""))}) SELECT * FROM unnest({string.Join(", ", columns.Select((_, i) => $"${i + 1}"))})"""
        );
        foreach (var column in columns)
        {
            var values = Array.CreateInstance(column.ClrType, rows.Count);
            var at = 0;
            foreach (var row in rows)
            {
                values.SetValue(column.Value(row), at++);
            }

            command.Parameters.Add(new NpgsqlParameter { Value = values, DataTypeName = column.StoreType + "[]" });
        }

        return command;
    }

    /// <summary>The server is its operator's, who may have reasons: what is not safe is told.</summary>
    public override async Task<IReadOnlyList<string>> CheckDurabilityAsync(CancellationToken ct)
    {
        var off = await Database
            .SqlQuery<string>(
                $"""SELECT name AS "Value" FROM pg_settings WHERE name IN ('fsync', 'synchronous_commit') AND setting = 'off'"""
            )
            .ToListAsync(ct);
        return
        [
            .. off.Order(StringComparer.Ordinal)
                .Select(name =>
                    $"PostgreSQL runs with {name} = off: a crash of the server may lose reports that were acknowledged."
                ),
        ];
    }

    /// <summary>By an advisory lock of this context's session, which the server frees when the connection breaks.</summary>
    public override async Task<IAsyncDisposable> AloneAsync(string name, CancellationToken ct)
    {
        await Database.OpenConnectionAsync(ct);
        try
        {
            await Database.ExecuteSqlAsync($"SELECT pg_advisory_lock(hashtextextended({name}, 0))", ct);
            return new Held(this, name);
        }
        catch
        {
            await Database.CloseConnectionAsync();
            throw;
        }
    }

    private static string? State(Exception exception) =>
        (exception as PostgresException ?? exception.InnerException as PostgresException)?.SqlState;

    private sealed class Held(PostgresReportsDbContext db, string name) : IAsyncDisposable
    {
        public async ValueTask DisposeAsync()
        {
            try
            {
                await db.Database.ExecuteSqlAsync($"SELECT pg_advisory_unlock(hashtextextended({name}, 0))");
            }
            finally
            {
                await db.Database.CloseConnectionAsync();
            }
        }
    }

    internal sealed class DesignTime : IDesignTimeDbContextFactory<PostgresReportsDbContext>
    {
        public PostgresReportsDbContext CreateDbContext(string[] args) =>
            new(new DbContextOptionsBuilder<PostgresReportsDbContext>().UseNpgsql("Host=design-time-only").Options);
    }
}
