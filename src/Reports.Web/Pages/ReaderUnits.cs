using Microsoft.AspNetCore.WebUtilities;
using Reports.Domain.Measures;

namespace Reports.Web.Pages;

/// <summary>The units that a reader chose, kept in every link: pounds and inches, or kilograms and centimetres.</summary>
public sealed record ReaderUnits(WeightUnit Weight)
{
    public const string Parameter = "units";
    private const string Metric = "kg";

    public LengthUnit Length => Weight == WeightUnit.Kg ? LengthUnit.Cm : LengthUnit.In;
    public DepthUnit Depth => Weight == WeightUnit.Kg ? DepthUnit.M : DepthUnit.Ft;

    public static ReaderUnits Of(HttpRequest request) =>
        new(request.Query[Parameter].ToString() == Metric ? WeightUnit.Kg : WeightUnit.Lb);

    /// <summary>An address of this site in these units.</summary>
    public string Link(string path, params (string Name, string Value)[] more)
    {
        foreach (var (name, value) in more)
        {
            path = QueryHelpers.AddQueryString(path, name, value);
        }

        return Weight == WeightUnit.Kg ? QueryHelpers.AddQueryString(path, Parameter, Metric) : path;
    }

    /// <summary>The page at hand in these units, all else kept.</summary>
    public string Here(HttpRequest request) =>
        Link(
            request.Path,
            [
                .. request
                    .Query.Where(q => q.Key != Parameter)
                    .SelectMany(q => q.Value, (q, value) => (q.Key, value ?? "")),
            ]
        );
}
