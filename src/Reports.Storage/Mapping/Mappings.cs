using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Reports.Domain.Coast;

namespace Reports.Storage.Mapping;

internal sealed class ReportMapping : IEntityTypeConfiguration<ReportRow>
{
    public void Configure(EntityTypeBuilder<ReportRow> builder)
    {
        builder.ToTable("reports");
        builder.HasKey(r => r.Id);
        builder.Property(r => r.Id).HasMaxLength(32);
        builder.Property(r => r.Boat).HasMaxLength(Code.MaxLength);
        builder.Property(r => r.Zone).HasMaxLength(Code.MaxLength);
        builder.Property(r => r.Version).IsConcurrencyToken();
        builder.Ignore(r => r.Key);
        builder
            .HasIndex(r => new
            {
                r.Boat,
                r.FishedOn,
                r.Zone,
                r.Sailing,
            })
            .IsUnique();
        builder.HasIndex(r => new { r.FishedOn, r.Id });
        builder.HasOne<BoatRow>().WithMany().HasForeignKey(r => r.Boat).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<ZoneRow>().WithMany().HasForeignKey(r => r.Zone).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ReportVersionMapping : IEntityTypeConfiguration<ReportVersionRow>
{
    public void Configure(EntityTypeBuilder<ReportVersionRow> builder)
    {
        builder.ToTable("report_versions");
        builder.HasKey(v => new { v.ReportId, v.Version });
        builder.Property(v => v.ReportId).HasMaxLength(32);
        builder.Property(v => v.Boat).HasMaxLength(Code.MaxLength);
        builder.Property(v => v.Zone).HasMaxLength(Code.MaxLength);
        builder.Property(v => v.Credential).HasMaxLength(32);
        builder.Property(v => v.RequestHash).HasMaxLength(32);

        // The key first: a set of requests of many credentials is looked up by its keys alone.
        builder.HasIndex(v => new { v.IdempotencyKey, v.Credential }).IsUnique();
        builder.HasIndex(v => v.FishedOn);
        builder.HasOne<ReportRow>().WithMany().HasForeignKey(v => v.ReportId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class TouchedMapping : IEntityTypeConfiguration<TouchedRow>
{
    public void Configure(EntityTypeBuilder<TouchedRow> builder)
    {
        builder.ToTable("touched");
        builder.HasKey(t => t.Id);
        builder.Property(t => t.Zone).HasMaxLength(Code.MaxLength);
        builder.Property(t => t.Species).HasMaxLength(3);
    }
}

internal sealed class CoastMapping : IEntityTypeConfiguration<CoastRow>
{
    public void Configure(EntityTypeBuilder<CoastRow> builder)
    {
        builder.ToTable("coasts");
        builder.HasKey(c => c.Species);
        builder.Property(c => c.Species).HasMaxLength(3);
    }
}

internal sealed class BriefMapping : IEntityTypeConfiguration<BriefRow>
{
    public void Configure(EntityTypeBuilder<BriefRow> builder)
    {
        builder.ToTable("briefs");
        builder.HasKey(b => new
        {
            b.Zone,
            b.Species,
            b.Version,
        });
        builder.Property(b => b.Zone).HasMaxLength(Code.MaxLength);
        builder.Property(b => b.Species).HasMaxLength(3);
    }
}

internal sealed class EpochMapping : IEntityTypeConfiguration<EpochRow>
{
    public void Configure(EntityTypeBuilder<EpochRow> builder)
    {
        builder.ToTable("epochs");
        builder.HasKey(e => e.Day);
    }
}

internal sealed class LandingMapping : IEntityTypeConfiguration<LandingRow>
{
    public void Configure(EntityTypeBuilder<LandingRow> builder)
    {
        builder.ToTable("landings");
        builder.HasKey(l => l.Code);
        builder.Property(l => l.Code).HasMaxLength(Code.MaxLength);
    }
}

internal sealed class BoatMapping : IEntityTypeConfiguration<BoatRow>
{
    public void Configure(EntityTypeBuilder<BoatRow> builder)
    {
        builder.ToTable("boats");
        builder.HasKey(b => b.Code);
        builder.Property(b => b.Code).HasMaxLength(Code.MaxLength);
        builder.HasOne<LandingRow>().WithMany().HasForeignKey(b => b.Landing).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ZoneMapping : IEntityTypeConfiguration<ZoneRow>
{
    public void Configure(EntityTypeBuilder<ZoneRow> builder)
    {
        builder.ToTable("zones");
        builder.HasKey(z => z.Code);
        builder.Property(z => z.Code).HasMaxLength(Code.MaxLength);
    }
}

internal sealed class SpeciesMapping : IEntityTypeConfiguration<SpeciesRow>
{
    public void Configure(EntityTypeBuilder<SpeciesRow> builder)
    {
        builder.ToTable("species");
        builder.HasKey(s => s.Code);
        builder.Property(s => s.Code).HasMaxLength(3);
    }
}

internal sealed class DepartureMapping : IEntityTypeConfiguration<DepartureRow>
{
    public void Configure(EntityTypeBuilder<DepartureRow> builder)
    {
        builder.ToTable("departures");
        builder.HasKey(d => new
        {
            d.Boat,
            d.Date,
            d.Sailing,
        });
        builder.HasIndex(d => d.Date);
        builder.Property(d => d.TripDays).HasPrecision(6, 2);
        builder.HasOne<BoatRow>().WithMany().HasForeignKey(d => d.Boat).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<ZoneRow>().WithMany().HasForeignKey(d => d.Zone).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class LandingBaitMapping : IEntityTypeConfiguration<LandingBaitRow>
{
    public void Configure(EntityTypeBuilder<LandingBaitRow> builder)
    {
        builder.Ignore(b => b.Day);
        builder.ToTable("landing_bait");
        builder.HasKey(b => new { b.Landing, b.Date });
        builder.HasOne<LandingRow>().WithMany().HasForeignKey(b => b.Landing).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ApiKeyMapping : IEntityTypeConfiguration<ApiKeyRow>
{
    public void Configure(EntityTypeBuilder<ApiKeyRow> builder)
    {
        builder.ToTable("api_keys");
        builder.HasKey(k => k.Id);
        builder.Property(k => k.Id).HasMaxLength(32);
        builder.HasIndex(k => k.Hash).IsUnique();
    }
}
