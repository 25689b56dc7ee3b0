using System.IO.Compression;
using System.Security.Cryptography;
using Microsoft.AspNetCore.ResponseCompression;
using Microsoft.AspNetCore.StaticFiles;

namespace Reports.Web.Pages;

/// <summary>
/// The files of wwwroot, read and compressed once, at start. A page names a file by what is in it, so a browser keeps it for ever
/// and asks for another when it changes.
/// </summary>
public sealed class Assets
{
    private const string Version = "v";

    private readonly Dictionary<string, Asset> files;

    public Assets(IWebHostEnvironment host)
    {
        var types = new FileExtensionContentTypeProvider();
        files = host
            .WebRootFileProvider.GetDirectoryContents("")
            .Where(f => !f.IsDirectory)
            .ToDictionary(
                f => f.Name,
                f =>
                {
                    using var read = new MemoryStream();
                    using (var file = f.CreateReadStream())
                    {
                        file.CopyTo(read);
                    }

                    var bytes = read.ToArray();
                    return new Asset(
                        types.Mappings[Path.GetExtension(f.Name)],
                        Convert.ToHexStringLower(SHA256.HashData(bytes), 0, 8),
                        bytes,
                        Compressed(bytes, s => new BrotliStream(s, CompressionLevel.SmallestSize)),
                        Compressed(bytes, s => new GZipStream(s, CompressionLevel.SmallestSize))
                    );
                },
                StringComparer.Ordinal
            );
    }

    public IEnumerable<string> Names => files.Keys;

    /// <summary>The address of a file by its content: "/icon.svg?v=0123456789abcdef".</summary>
    public string Link(string name) => $"/{name}?{Version}={files[name].Hash}";

    public IResult Send(string name, HttpContext http, IResponseCompressionProvider encodings)
    {
        var asset = files[name];
        var encoding = encodings.GetCompressionProvider(http)?.EncodingName;
        var bytes = encoding switch
        {
            "br" => asset.Brotli,
            "gzip" => asset.Gzip,
            _ => asset.Plain,
        };
        var headers = http.Response.Headers;
        headers.Vary = "Accept-Encoding";
        headers.CacheControl =
            http.Request.Query[Version].ToString() == asset.Hash
                ? "public, max-age=31536000, immutable"
                : "public, no-cache";
        if (bytes != asset.Plain)
        {
            headers.ContentEncoding = encoding;
        }

        return TypedResults.Bytes(
            bytes,
            asset.Type,
            entityTag: new($"\"{asset.Hash}-{(bytes == asset.Plain ? "identity" : encoding)}\"")
        );
    }

    private static byte[] Compressed(byte[] bytes, Func<Stream, Stream> compress)
    {
        using var small = new MemoryStream();
        using (var stream = compress(small))
        {
            stream.Write(bytes);
        }

        return small.ToArray();
    }

    private sealed record Asset(string Type, string Hash, byte[] Plain, byte[] Brotli, byte[] Gzip);
}
