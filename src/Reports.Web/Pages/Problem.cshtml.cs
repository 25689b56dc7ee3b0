using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Reports.Domain.Coast;
using Reports.Web.Api.V1;

namespace Reports.Web.Pages;

/// <summary>
/// What a reader sees instead of a page that is not there or that failed: what is the matter, and where to go on. It reads nothing
/// but the register, and says less where even that fails.
/// </summary>
[ResponseCache(NoStore = true)]
[IgnoreAntiforgeryToken]
public sealed class ProblemModel(RegisterCache registers, ILogger<ProblemModel> log) : PageModel
{
    public ReaderUnits Units { get; private set; } = null!;
    public int Status { get; private set; }

    /// <summary>The address that was asked for; null where the page was opened by itself.</summary>
    public string? Asked { get; private set; }
    public IReadOnlyList<Zone> Zones { get; private set; } = [];
    public IReadOnlyList<Species> Species { get; private set; } = [];

    /// <summary>The zone that the address names, where it is one: then it is the species that is not known.</summary>
    public Zone? Zone { get; private set; }

    public bool IsBriefAddress => Asked?.StartsWith("/zones/", StringComparison.Ordinal) == true;

    public async Task OnGetAsync(int status, CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        Status = status is >= 400 and <= 599 ? status : StatusCodes.Status404NotFound;
        Response.StatusCode = Status;
        Asked = HttpContext.Features.Get<IStatusCodeReExecuteFeature>()?.OriginalPath;
        if (Status != StatusCodes.Status404NotFound)
        {
            return;
        }

        try
        {
            var register = await registers.GetAsync(ct);
            Zones = [.. register.Zones.Values.OrderBy(z => z.Name, StringComparer.Ordinal)];
            Species =
            [
                .. register
                    .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
                    .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase),
            ];
            Zone = IsBriefAddress ? register.Zones.GetValueOrDefault(Asked!.Split('/')[2]) : null;
        }
        catch (Exception e) when (e is System.Data.Common.DbException or InvalidOperationException)
        {
            log.LogWarning(e, "The page of a missing address could not list the zones");
        }
    }

    // A form that failed comes back here with its own method.
    public Task OnPostAsync(int status, CancellationToken ct) => OnGetAsync(status, ct);
}
