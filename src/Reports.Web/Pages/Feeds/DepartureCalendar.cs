using Ical.Net.CalendarComponents;
using Ical.Net.DataTypes;
using Ical.Net.Serialization;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;

namespace Reports.Web.Pages.Feeds;

/// <summary>
/// A landing's departures as iCalendar (RFC 5545): whole days, since nobody tells an hour; a cancelled one says so. How many have
/// booked is not public and does not stand here.
/// </summary>
public static class DepartureCalendar
{
    /// <summary>Days that a calendar looks ahead.</summary>
    public const int Days = 60;

    /// <param name="stamp">When the calendar was last true: the day's beginning, so that the same day gives the same bytes.</param>
    /// <param name="host">Makes the names of the events unique in the world.</param>
    public static string Write(
        Landing landing,
        IEnumerable<Departure> departures,
        Register register,
        DateTimeOffset stamp,
        string host
    )
    {
        var calendar = new Ical.Net.Calendar { ProductId = "-//Railside//Departures//EN" };
        calendar.AddProperty("X-WR-CALNAME", $"Departures of {landing.Name}");
        foreach (
            var departure in departures
                .OrderBy(d => d.Date)
                .ThenBy(d => d.Boat, StringComparer.Ordinal)
                .ThenBy(d => d.Sailing)
        )
        {
            var cancelled = departure.Status == DepartureStatus.Cancelled;
            calendar.Events.Add(
                new CalendarEvent
                {
                    Uid = $"{departure.Boat}-{departure.Date:yyyyMMdd}-{departure.Sailing}@{host}",
                    DtStamp = new CalDateTime(stamp.UtcDateTime, CalDateTime.UtcTzId),
                    Start = new CalDateTime(departure.Date),
                    End = new CalDateTime(departure.Date.AddDays((int)Math.Ceiling(departure.TripDays ?? 1))),
                    Summary = (cancelled ? "Cancelled: " : "") + Summary(departure, register),
                    Location = landing.Name,
                    Status = cancelled ? "CANCELLED" : "CONFIRMED",
                    Transparency = "TRANSPARENT",
                }
            );
        }

        return new CalendarSerializer().SerializeToString(calendar)!;
    }

    /// <summary>"Grey Petrel, full-day trip to Cannery Bank, second sailing"</summary>
    private static string Summary(Departure departure, Register register)
    {
        var words =
            $"{register.Boats[departure.Boat].Name}, {(departure.Kind is { } kind ? kind.Word() + " trip" : "trip")}";
        if (departure.Zone is { } code && register.Zones.TryGetValue(code, out var zone))
        {
            words += $" to {zone.Name}";
        }

        return departure.Sailing switch
        {
            1 => words,
            2 => words + ", second sailing",
            var more => $"{words}, sailing {more}",
        };
    }
}
