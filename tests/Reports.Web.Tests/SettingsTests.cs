using Microsoft.Extensions.Configuration;

namespace Reports.Web.Tests;

public sealed class SettingsTests
{
    [Fact]
    public void WithNothingSetItIsTheDemoOnTheEmbeddedDatabase()
    {
        var settings = Good();

        Assert.True(settings.Demo);
        Assert.Null(settings.Postgres);
        Assert.Equal("demo.db", Path.GetFileName(settings.SqliteFile));
        Assert.Equal(Settings.DefaultRateLimit, settings.RateLimit);
    }

    [Fact]
    public void AnAdministratorOrADatabaseMeansRealReports()
    {
        var own = Good(("Reports:AdminKey", new string('k', 32)));
        Assert.False(own.Demo);
        Assert.Equal("reports.db", Path.GetFileName(own.SqliteFile));

        Assert.False(Good(("ConnectionStrings:Reports", "Host=db;Database=fleet")).Demo);
        var both = Good(("ConnectionStrings:Reports", "Host=db;Database=fleet"), ("Reports:Demo", "true"));
        Assert.Contains("fleet_demo", both.Postgres!, StringComparison.Ordinal);
        Assert.Null(Good(("Reports:RateLimit", "OFF")).RateLimit);
        Assert.Equal(TimeSpan.FromSeconds(30), Good(("Reports:ClientTimeout", "30")).ClientTimeout);
        Assert.Equal("Pacific/Auckland", Good(("Reports:TimeZone", "Pacific/Auckland")).TimeZone.Id);
    }

    [Theory]
    [InlineData("Reports:Demo", "perhaps", "Reports__Demo")]
    [InlineData("Reports:AdminKey", "0123456789012345678901234567890", "32 characters")]
    [InlineData("Reports:TimeZone", "Nowhere", "Reports__TimeZone")]
    [InlineData("Reports:RateLimit", "0", "Reports__RateLimit")]
    [InlineData("Reports:RateLimit", "1e3", "Reports__RateLimit")]
    [InlineData("Reports:ClientTimeout", "1", "Reports__ClientTimeout")]
    [InlineData("Reports:ClientTimeout", "soon", "Reports__ClientTimeout")]
    [InlineData("Reports:RateLimt", "5", "Reports__RateLimt is not a setting")]
    [InlineData("ConnectionStrings:Reports", "fleet", "ConnectionStrings__Reports")]
    [InlineData("ConnectionStrings:Reports", "Host=db", "ConnectionStrings__Reports")]
    [InlineData("ConnectionStrings:Reports", "Host=db;Database=fleet;Port=many", "ConnectionStrings__Reports")]
    public void AWrongSettingIsTold(string name, string value, string expected)
    {
        var (settings, faults) = Read((name, value));

        Assert.Null(settings);
        Assert.Contains(expected, Assert.Single(faults), StringComparison.Ordinal);
    }

    private static Settings Good(params (string Name, string Value)[] given)
    {
        var (settings, faults) = Read(given);
        Assert.Empty(faults);
        return settings!;
    }

    private static (Settings? Settings, IReadOnlyList<string> Faults) Read(
        params (string Name, string Value)[] given
    ) =>
        Settings.Read(
            new ConfigurationBuilder()
                .AddInMemoryCollection(given.Select(g => KeyValuePair.Create(g.Name, (string?)g.Value)))
                .Build()
        );
}
