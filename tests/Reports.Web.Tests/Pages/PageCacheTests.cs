using System.IO.Compression;
using System.Net;
using System.Net.Http.Headers;
using System.Text;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.Filters;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>What is kept of public pages, and what a reader who has one is sent.</summary>
public sealed class PageCacheTests(PostgresServer postgres) : IAsyncLifetime
{
    private const string Brief = $"/zones/{Fleet.Bank}/SBF";
    private static readonly string[] Encodings = ["identity", "gzip", "br"];

    private ReportsApp app = null!;
    private HttpClient http = null!;

    public static TheoryData<string> Pages =>
        [
            "/",
            "/?species=ALB&units=kg",
            "/zones",
            Brief,
            Brief + "?outfits=1",
            Brief + "/rigs.csv",
            $"/pack?zone={Fleet.Bank}&species=SBF",
            $"/gauge?zone={Fleet.Bank}&species=SBF",
            "/record?species=SBF",
            "/record.csv?species=SBF",
            "/reference",
        ];

    public async ValueTask InitializeAsync() => (app, http) = await PageCoast.StartAsync(DatabaseKind.Sqlite, postgres);

    public ValueTask DisposeAsync() => app.DisposeAsync();

    [Theory]
    [MemberData(nameof(Pages))]
    public async Task EachEncodingIsTheSamePageUnderATagOfItsOwn(string path)
    {
        List<(byte[] Body, EntityTagHeaderValue Tag)> sent = [];
        foreach (var encoding in Encodings)
        {
            using var answer = await SendAsync(path, encoding);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            Assert.Equal(encoding == "identity" ? [] : [encoding], answer.Content.Headers.ContentEncoding);
            Assert.Contains("Accept-Encoding", answer.Headers.Vary);
            Assert.False(answer.Headers.Contains("Set-Cookie"));
            var tag = answer.Headers.ETag;
            Assert.NotNull(tag);
            Assert.False(tag.IsWeak);
            var wire = await BytesAsync(answer);
            sent.Add((Plain(wire, encoding), tag));

            // Strong: the tag names these very bytes, from the cache too.
            using var again = await SendAsync(path, encoding);
            Assert.Equal(wire, await BytesAsync(again));
            Assert.Equal(tag, again.Headers.ETag);

            using var unchanged = await SendAsync(path, encoding, tag);
            Assert.Equal(HttpStatusCode.NotModified, unchanged.StatusCode);
            Assert.Empty(await BytesAsync(unchanged));
            Assert.Equal(tag, unchanged.Headers.ETag);
            Assert.Contains("Accept-Encoding", unchanged.Headers.Vary);
        }

        Assert.All(sent, s => Assert.Equal(sent[0].Body, s.Body));
        Assert.Distinct(sent.Select(s => s.Tag));
        using var other = await SendAsync(path, "br", sent[0].Tag);
        Assert.Equal(HttpStatusCode.OK, other.StatusCode);
    }

    [Fact]
    public async Task ANewBriefReachesItsPagesAtOnce()
    {
        using var before = await SendAsync(Brief, "br");
        using var week = await SendAsync("/", "br");
        var changed = SampleBrief.Good(Fleet.Bank, "SBF") with
        {
            CatchRate = SampleBrief.Good(Fleet.Bank, "SBF").CatchRate! with { AtLeastOne = new(0.2, 0.1, 0.3) },
        };

        await app.WithAsync((BriefStore briefs) => briefs.PublishAsync(changed, [], CancellationToken.None));

        using var after = await SendAsync(Brief, "br", before.Headers.ETag);
        Assert.Equal(HttpStatusCode.OK, after.StatusCode);
        Assert.NotEqual(before.Headers.ETag, after.Headers.ETag);
        Assert.Contains("only 2 in 10", (await http.PageAsync(Brief)).Words("p.lead"), StringComparison.Ordinal);
        using var weekAfter = await SendAsync("/", "br", week.Headers.ETag);
        Assert.Equal(HttpStatusCode.OK, weekAfter.StatusCode);

        // The same brief once more is no other: nothing is sent again.
        await app.WithAsync((BriefStore briefs) => briefs.PublishAsync(changed, [], CancellationToken.None));
        using var same = await SendAsync(Brief, "br", after.Headers.ETag);
        Assert.Equal(HttpStatusCode.NotModified, same.StatusCode);
    }

    [Fact]
    public async Task ABriefOfAnotherProcessReachesItsPagesWithinASecond()
    {
        using var before = await SendAsync(Brief, "br");
        var changed = SampleBrief.Thin(Fleet.Bank, "SBF");

        // Another process does not count in this one's changes.
        await app.WithAsync(
            (ReportsDbContext db) =>
                new BriefStore(db, new BriefChanges(), app.Time).PublishAsync(changed, [], CancellationToken.None)
        );
        app.Time.Advance(TimeSpan.FromSeconds(1));

        using var after = await SendAsync(Brief, "br", before.Headers.ETag);
        Assert.Equal(HttpStatusCode.OK, after.StatusCode);
    }

    /// <summary>As on the first minute of a service, whose briefs are published one after the other while readers come.</summary>
    [Fact]
    public async Task APageThatABriefOvertookIsSentWholeAndWithoutAName()
    {
        var changed = SampleBrief.Thin(Fleet.Bank, "ALB");
        var overtaking = new Overtaking(() =>
            app.WithAsync((BriefStore briefs) => briefs.PublishAsync(changed, [], CancellationToken.None))
        );
        await using var overtaken = app.WithWebHostBuilder(host =>
            host.ConfigureTestServices(services => services.Configure<MvcOptions>(o => o.Filters.Add(overtaking)))
        );
        http = overtaken.CreateClient();

        using var during = await SendAsync(Brief, "br");
        Assert.Equal(HttpStatusCode.OK, during.StatusCode);
        Assert.Null(during.Headers.ETag);
        var page = Plain(await BytesAsync(during), "br");
        Assert.EndsWith("</html>", Encoding.UTF8.GetString(page).TrimEnd(), StringComparison.Ordinal);

        using var after = await SendAsync(Brief, "br");
        Assert.NotNull(after.Headers.ETag);
        Assert.Equal(page, Plain(await BytesAsync(after), "br"));
        Assert.Equal(2, overtaking.Made);
        using var kept = await SendAsync(Brief, "br");
        Assert.Equal(after.Headers.ETag, kept.Headers.ETag);
        Assert.Equal(2, overtaking.Made);
    }

    [Fact]
    public async Task AClosedSpeciesAndANewDayReachTheirPagesAtOnce()
    {
        using var open = await SendAsync(Brief, "br");
        await app.WithAsync(
            (RegisterStore register) =>
                register.PutAsync(
                    new Species("SBF", "southern bluefin", "Thunnus maccoyii", SpeciesKind.Catch)
                    {
                        ClosedNotice = "Closed by the invented authority.",
                    },
                    CancellationToken.None
                )
        );
        app.Services.GetRequiredService<RegisterCache>().Drop();

        using var closed = await SendAsync(Brief, "br", open.Headers.ETag);
        Assert.Equal(HttpStatusCode.OK, closed.StatusCode);
        Assert.Contains("Closed by the invented", (await http.PageAsync(Brief)).Words(), StringComparison.Ordinal);

        app.Time.Advance(TimeSpan.FromDays(1));
        using var tomorrow = await SendAsync(Brief, "br", closed.Headers.ETag);
        Assert.Equal(HttpStatusCode.OK, tomorrow.StatusCode);
    }

    [Theory]
    [InlineData("/zones/nowhere/SBF")]
    [InlineData("/?species=XXX")]
    public async Task WhatIsNotThereIsNotKept(string path)
    {
        using var answer = await SendAsync(path, "br");

        Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        Assert.Null(answer.Headers.ETag);
        Assert.True(answer.Headers.CacheControl?.NoStore);
    }

    [Fact]
    public async Task TwoAddressesNeverShareAPage()
    {
        var pack = $"/pack?zone={Fleet.Bank}&species=SBF";
        Assert.Equal($"{pack}&own=60&own=30&units=kg", await SwitchAsync($"{pack}&own=60&own=30"));
        Assert.Equal($"{pack}&own=30&own=60&units=kg", await SwitchAsync($"{pack}&own=30&own=60"));
        await http.PageAsync(Brief);
        await http.PageAsync($"/zones/{Fleet.Bank.ToUpperInvariant()}/SBF", HttpStatusCode.NotFound);

        async Task<string?> SwitchAsync(string path) =>
            (await http.PageAsync(path)).One(".switch a").GetAttribute("href");
    }

    [Fact]
    public async Task ACookieOfTheReaderChangesNothing()
    {
        using var without = await SendAsync(Brief, "gzip");
        using var request = new HttpRequestMessage(HttpMethod.Get, Brief);
        request.Headers.Add("Accept-Encoding", "gzip");
        request.Headers.Add("Cookie", "anything=1");
        using var with = await http.SendAsync(request, TestContext.Current.CancellationToken);

        Assert.Equal(without.Headers.ETag, with.Headers.ETag);
        Assert.False(with.Headers.Contains("Set-Cookie"));
    }

    [Theory]
    [InlineData("link[rel=icon]", "icon.svg")]
    public async Task AFileOfThePagesIsNamedByItsContentAndKeptForEver(string link, string file)
    {
        var address = (await http.PageAsync("/")).One(link).GetAttribute("href")!;
        var stored = await File.ReadAllBytesAsync(
            Path.Combine(Repository.Root, "src/Reports.Web/wwwroot", file),
            TestContext.Current.CancellationToken
        );
        List<EntityTagHeaderValue> tags = [];
        foreach (var encoding in Encodings)
        {
            using var answer = await SendAsync(address, encoding);
            Assert.Equal(
                "public, max-age=31536000, immutable",
                Assert.Single(answer.Headers.GetValues("Cache-Control"))
            );
            Assert.Equal(encoding == "identity" ? [] : [encoding], answer.Content.Headers.ContentEncoding);
            Assert.Equal(stored, Plain(await BytesAsync(answer), encoding));
            tags.Add(answer.Headers.ETag!);
            using var unchanged = await SendAsync(address, encoding, answer.Headers.ETag);
            Assert.Equal(HttpStatusCode.NotModified, unchanged.StatusCode);
        }

        Assert.Distinct(tags);
        using var unnamed = await SendAsync("/" + file, "br");
        Assert.True(unnamed.Headers.CacheControl?.NoCache);
    }

    private async Task<HttpResponseMessage> SendAsync(string path, string encoding, EntityTagHeaderValue? known = null)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, path);
        request.Headers.Add("Accept-Encoding", encoding);
        if (known is not null)
        {
            request.Headers.IfNoneMatch.Add(known);
        }

        return await http.SendAsync(request, TestContext.Current.CancellationToken);
    }

    private static Task<byte[]> BytesAsync(HttpResponseMessage answer) =>
        answer.Content.ReadAsByteArrayAsync(TestContext.Current.CancellationToken);

    private static byte[] Plain(byte[] wire, string encoding)
    {
        using var from = new MemoryStream(wire);
        using Stream stream = encoding switch
        {
            "br" => new BrotliStream(from, CompressionMode.Decompress),
            "gzip" => new GZipStream(from, CompressionMode.Decompress),
            _ => from,
        };
        using var to = new MemoryStream();
        stream.CopyTo(to);
        return to.ToArray();
    }

    /// <summary>Something happens while the first page is made.</summary>
    private sealed class Overtaking(Func<Task> happen) : IAsyncResultFilter
    {
        public int Made { get; private set; }

        public async Task OnResultExecutionAsync(ResultExecutingContext context, ResultExecutionDelegate next)
        {
            if (++Made == 1)
            {
                await happen();
            }

            await next();
        }
    }
}
