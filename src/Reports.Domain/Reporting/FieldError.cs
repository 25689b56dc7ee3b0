namespace Reports.Domain.Reporting;

/// <summary>
/// One wrong field: an RFC 6901 JSON pointer to it (to where it belongs, when it is missing), a code that software can act on,
/// and a sentence that says what is accepted. API, CSV and forms all render this same list.
/// </summary>
public sealed record FieldError(string Pointer, string Code, string Detail);

/// <summary>A value, or every reason why there is none. Never both.</summary>
public sealed record Reading<T>(T? Value, IReadOnlyList<FieldError> Errors)
    where T : class
{
    public bool IsGood => Value is not null;
}
