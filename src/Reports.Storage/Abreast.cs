namespace Reports.Storage;

/// <summary>Work on many items at once.</summary>
public static class Abreast
{
    /// <summary>With fewer items than this there is less to share than sharing costs.</summary>
    private const int Few = 64;

    /// <summary>What a function makes of each item, in order; with many items on all processors.</summary>
    public static TResult[] SelectAbreast<T, TResult>(this IReadOnlyList<T> items, Func<T, TResult> make)
    {
        var made = new TResult[items.Count];
        if (items.Count < Few)
        {
            for (var i = 0; i < made.Length; i++)
            {
                made[i] = make(items[i]);
            }
        }
        else
        {
            Parallel.For(0, made.Length, i => made[i] = make(items[i]));
        }

        return made;
    }
}
