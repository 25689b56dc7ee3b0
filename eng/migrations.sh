#!/usr/bin/env bash
# Migrations for both databases, so that neither is forgotten.
#
#   eng/migrations.sh add NAME    adds a migration NAME for SQLite and for PostgreSQL
#   eng/migrations.sh check       fails when the model has changed since the last migration of either
#
# Needs no database: the design-time factories of Reports.Storage open none. Further arguments go to `dotnet ef`.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
cmd=${1:-}

each() { # each VERB [ARG...]: runs `dotnet ef migrations VERB ARG...` for both databases, stops at neither
  local failed=0 database
  for database in Sqlite Postgres; do
    echo "== $database"
    dotnet ef migrations "$@" --project src/Reports.Storage --startup-project src/Reports.Storage \
      --context "${database}ReportsDbContext" $(output "$1" "$database") || failed=1
  done
  return $failed
}

output() { if [ "$1" = add ]; then echo "--output-dir Migrations/$2"; fi; }

case $cmd in
  add)
    name=${2:?a name for the migration, such as AddDepartures}
    each add "$name" "${@:3}"
    ;;
  check) each has-pending-model-changes "${@:2}" ;;
  *)
    sed -n '2,7s/^# \{0,1\}//p' "${BASH_SOURCE[0]}" >&2
    exit 2
    ;;
esac
