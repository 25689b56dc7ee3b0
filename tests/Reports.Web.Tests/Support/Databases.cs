namespace Reports.Web.Tests.Support;

public enum DatabaseKind
{
    Sqlite,
    Postgres,
}

/// <summary>Every test of storage runs on each database that the service knows.</summary>
public static class Databases
{
    public static TheoryData<DatabaseKind> Both => [DatabaseKind.Sqlite, DatabaseKind.Postgres];
}
