namespace Reports.Storage;

/// <summary>
/// Counts the briefs that this process has published, so that it forgets at once what it made from older ones. What another
/// process publishes shows in <see cref="BriefStore.StampAsync"/>.
/// </summary>
public sealed class BriefChanges
{
    private int published;

    public int Published => Volatile.Read(ref published);

    public void Publish() => Interlocked.Increment(ref published);
}
