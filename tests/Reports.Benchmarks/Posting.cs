using System.Buffers.Text;
using System.Net;
using System.Net.Sockets;
using System.Text;

namespace Reports.Benchmarks;

/// <summary>
/// Posts over keep-alive connections with as little as a client can do, because pgbench does little too: a request is bytes, of an
/// answer only the status and the length are read.
/// </summary>
internal sealed class Posting(int port, string key)
{
    private static readonly byte[] LengthHeader = "\r\nContent-Length: "u8.ToArray();

    /// <summary>Posts on so many connections until the time is over; how many were answered with the status that is expected.</summary>
    public async Task<int> ManyAsync(
        int connections,
        TimeSpan time,
        string path,
        bool identified,
        Func<string> body,
        int expected
    )
    {
        using var over = new CancellationTokenSource(time);
        var posted = await Task.WhenAll(
            Enumerable
                .Range(0, connections)
                .Select(_ =>
                    Task.Run(async () =>
                    {
                        using var connection = await ConnectAsync();
                        var buffer = new byte[64 * 1024];
                        var count = 0;
                        while (!over.IsCancellationRequested)
                        {
                            var status = await PostAsync(connection, buffer, path, identified, body());
                            count +=
                                status == expected
                                    ? 1
                                    : throw new InvalidOperationException(
                                        $"{path} answered {status}: {Encoding.UTF8.GetString(buffer, 0, 600)}"
                                    );
                        }

                        return count;
                    })
                )
        );
        return posted.Sum();
    }

    private async Task<Socket> ConnectAsync()
    {
        var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
        await socket.ConnectAsync(IPAddress.Loopback, port);
        return socket;
    }

    private async Task<int> PostAsync(Socket socket, byte[] buffer, string path, bool identified, string body)
    {
        var identity = identified ? $"Idempotency-Key: {Guid.NewGuid()}\r\n" : "";
        var sent = Encoding.UTF8.GetBytes(
            $"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {key}\r\n{identity}Content-Type: application/json\r\nContent-Length: {body.Length}\r\n\r\n{body}",
            buffer
        );
        await socket.SendAsync(buffer.AsMemory(0, sent));
        var (received, whole) = (0, int.MaxValue);
        while (received < whole)
        {
            var count = await socket.ReceiveAsync(buffer.AsMemory(received));
            received += count > 0 ? count : throw new InvalidOperationException("The connection was closed.");
            if (whole == int.MaxValue)
            {
                whole = Whole(buffer.AsSpan(0, received)) ?? whole;
            }
        }

        return Utf8Parser.TryParse(buffer.AsSpan(9, 3), out int status, out _) ? status : 0;
    }

    /// <summary>Bytes of the whole answer, once they are known: by its length, or because its last chunk is there.</summary>
    private static int? Whole(ReadOnlySpan<byte> received)
    {
        var head = received.IndexOf("\r\n\r\n"u8);
        var at = received.IndexOf(LengthHeader);
        return head < 0 ? null
            : at >= 0 && Utf8Parser.TryParse(received[(at + LengthHeader.Length)..], out int length, out _)
                ? head + 4 + length
            : received.EndsWith("\r\n0\r\n\r\n"u8) ? received.Length
            : null;
    }
}
