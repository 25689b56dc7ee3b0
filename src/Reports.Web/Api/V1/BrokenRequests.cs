using Microsoft.AspNetCore.Diagnostics;

namespace Reports.Web.Api.V1;

/// <summary>
/// A request that broke while it was read (its body came too slowly, or ended early) is its client's affair: answered by the status
/// that the server gives it, where anybody still listens, and no error of the service.
/// </summary>
public sealed class BrokenRequests : IExceptionHandler
{
    public async ValueTask<bool> TryHandleAsync(
        HttpContext httpContext,
        Exception exception,
        CancellationToken cancellationToken
    )
    {
        if (exception is not BadHttpRequestException broken || !Startup.IsForSoftware(httpContext.Request))
        {
            return false;
        }

        await Problems.Broken(broken.StatusCode).ExecuteAsync(httpContext);
        return true;
    }
}
