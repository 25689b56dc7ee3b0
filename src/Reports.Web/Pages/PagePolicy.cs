using System.Security.Cryptography;
using System.Text;
using Microsoft.AspNetCore.OutputCaching;
using Microsoft.AspNetCore.ResponseCompression;

namespace Reports.Web.Pages;

/// <summary>
/// Public pages are kept as they were sent, compressed, each under its address, its encoding and the <see cref="PageStamp"/>; the
/// same three make its strong ETag. So a new brief reaches its page at once, a reader who has the page is told so without its being
/// made, and two encodings of one page never share a tag. What sets a cookie is not kept.
/// </summary>
public sealed class PagePolicy(PageStamp stamp, IResponseCompressionProvider encodings) : IOutputCachePolicy
{
    public const string Name = "public page";

    /// <summary>An entry that is not asked for any more makes room after this time; until then its stamp decides.</summary>
    private static readonly TimeSpan Kept = TimeSpan.FromHours(1);

    public async ValueTask CacheRequestAsync(OutputCacheContext context, CancellationToken cancellation)
    {
        var http = context.HttpContext;
        if (!HttpMethods.IsGet(http.Request.Method) && !HttpMethods.IsHead(http.Request.Method))
        {
            return;
        }

        var now = await stamp.CurrentAsync(cancellation);
        var encoding = encodings.GetCompressionProvider(http)?.EncodingName ?? "identity";
        context.EnableOutputCaching =
            context.AllowCacheLookup =
            context.AllowCacheStorage =
            context.AllowLocking =
                true;
        context.ResponseExpirationTimeSpan = Kept;

        // As it was written: varying by its keys would take the same values in another order for the same page.
        context.CacheVaryByRules.VaryByValues["query"] = http.Request.QueryString.Value ?? "";
        context.CacheVaryByRules.VaryByHost = true;
        context.CacheVaryByRules.VaryByValues["stamp"] = now;
        context.CacheVaryByRules.VaryByValues["encoding"] = encoding;
        http.Items[typeof(PagePolicy)] = now;
        http.Response.OnStarting(() => NameAsync(http, cancellation));

        var headers = http.Response.Headers;
        headers.ETag = Tag(http.Request, now, encoding);
        headers.CacheControl = "public, no-cache";
        headers.Vary = "Accept-Encoding";
    }

    public ValueTask ServeFromCacheAsync(OutputCacheContext context, CancellationToken cancellation)
    {
        context.HttpContext.Items.Remove(typeof(PagePolicy));
        return ValueTask.CompletedTask;
    }

    public async ValueTask ServeResponseAsync(OutputCacheContext context, CancellationToken cancellation) =>
        context.AllowCacheStorage = await IsAsStampedAsync(context.HttpContext, cancellation);

    /// <summary>
    /// Just before the first byte goes out, which of a large page is long before its last: afterwards no header can be taken back. A
    /// brief that was published while the page was made may be on it or not: such a page is sent without a name.
    /// </summary>
    private async Task NameAsync(HttpContext http, CancellationToken cancellation)
    {
        if (!http.Items.ContainsKey(typeof(PagePolicy)))
        {
            return;
        }

        var headers = http.Response.Headers;
        if (!IsPage(http.Response))
        {
            headers.CacheControl = "no-store";
        }

        if (!await IsAsStampedAsync(http, cancellation))
        {
            headers.Remove("ETag");
        }
    }

    private async Task<bool> IsAsStampedAsync(HttpContext http, CancellationToken cancellation) =>
        IsPage(http.Response) && await stamp.FreshAsync(cancellation) == http.Items[typeof(PagePolicy)] as string;

    private static bool IsPage(HttpResponse response) =>
        response.StatusCode == StatusCodes.Status200OK && response.Headers.SetCookie.Count == 0;

    private static string Tag(HttpRequest request, string stamp, string encoding)
    {
        var made = $"{request.Scheme}://{request.Host}{request.PathBase}{request.Path}{request.QueryString} {stamp}";
        return $"\"{Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(made)), 0, 12)}-{encoding}\"";
    }
}
