namespace Reports.Web.Tests.Support;

/// <summary>Where the working copy lies that these tests were built from.</summary>
public static class Repository
{
    public static string Root { get; } = Find();

    private static string Find()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "Reports.sln")))
            {
                return folder.FullName;
            }
        }

        throw new InvalidOperationException("Reports.sln lies in no folder above the tests.");
    }
}
