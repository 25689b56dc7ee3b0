#!/usr/bin/env bash
# Everything that must hold before a change is merged: locked restore, formatter, build, migrations, tests.
#
#   tests/run.sh                                        all of it
#   tests/run.sh --fast                                 without the tests in a real browser
#   tests/run.sh -- --filter-class '*HookSizeTests'     arguments after -- go to the test runner
#
# The last line says `N passed, N failed, N skipped`; the exit code is 0 only if all went well. With CI=true package
# versions are locked and a skipped test is a failure.
#
# PostgreSQL for the tests: the server of REPORTS_TEST_POSTGRES (a connection string of an account that may create
# databases), else a Docker engine (the tests start a container), else local binaries (a private server, stopped at the
# end). The browser: REPORTS_TEST_CHROMIUM, else chromium, chromium-browser or google-chrome on the path.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

fast=
filter=()
while [ $# -gt 0 ]; do
  case $1 in
    --fast) fast=1 ;;
    --) shift; filter=("$@"); break ;;
    *) sed -n '2,14s/^# \{0,1\}//p' tests/run.sh >&2; exit 2 ;;
  esac
  shift
done

case ${CI:-} in '' | 0 | false) ci= ;; *) ci=1; export CI=true ;; esac
# English, so that the summary can be read; no banners.
export DOTNET_CLI_UI_LANGUAGE=en DOTNET_NOLOGO=1 DOTNET_CLI_TELEMETRY_OPTOUT=1

say() { printf '\n== %s\n' "$*"; }

# --- What the machine must have -------------------------------------------------------------------------------------

command -v dotnet >/dev/null || { echo "The .NET SDK 10 is missing (global.json names the version)." >&2; exit 1; }

postgres_binaries() { [ -n "${PG_BIN:-}" ] || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || command -v initdb >/dev/null; }

# An engine that can't get the image is of no use: then local binaries serve.
postgres_container() {
  command -v docker >/dev/null && timeout 20 docker info >/dev/null 2>&1 &&
    { docker image inspect postgres:17-alpine >/dev/null 2>&1 || timeout 300 docker pull -q postgres:17-alpine >/dev/null 2>&1; }
}

find_chromium() {
  if [ -n "${REPORTS_TEST_CHROMIUM:-}" ]; then command -v "$REPORTS_TEST_CHROMIUM"; return; fi
  command -v chromium || command -v chromium-browser || command -v google-chrome
}

postgres=local
if [ -n "${REPORTS_TEST_POSTGRES:-}" ]; then
  postgres=given
elif postgres_container; then
  postgres=container
fi

look() {
  missing=()
  if [ $postgres = local ] && ! postgres_binaries; then missing+=(postgresql); fi
  if [ -z "$fast" ] && ! find_chromium >/dev/null; then missing+=(chromium fonts-dejavu-core); fi
  if [ -z "$fast" ] && ! command -v pdftoppm >/dev/null; then missing+=(poppler-utils); fi # printed pages are measured
  if ! command -v npm >/dev/null; then missing+=(nodejs npm); fi # a client in TypeScript is built from the API's document
  if ! command -v curl >/dev/null; then missing+=(curl); fi      # the tutorial is typed as it stands
}
look

if [ ${#missing[@]} -gt 0 ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
  say "Installing ${missing[*]}"
  export DEBIAN_FRONTEND=noninteractive
  { apt-get update -q && apt-get install -q -y --no-install-recommends "${missing[@]}"; } ||
    echo "The installation failed." >&2
  look
fi

if [ ${#missing[@]} -gt 0 ]; then
  {
    echo "The tests need programs that this machine lacks. On Debian, as root: apt-get install ${missing[*]}"
    for one in "${missing[@]}"; do
      case $one in
        postgresql)
          echo "Without a local PostgreSQL: start a Docker engine, or set REPORTS_TEST_POSTGRES to a connection string of an"
          echo "account that may create databases, such as 'Host=127.0.0.1;Username=postgres;Password=...'."
          ;;
        poppler-utils) echo "Without pdftoppm, which measures printed sheets: run with --fast." ;;
        chromium) echo "Without a browser: set REPORTS_TEST_CHROMIUM to a Chromium's path, or run with --fast." ;;
      esac
    done
  } >&2
  exit 1
fi
if [ -z "$fast" ]; then REPORTS_TEST_CHROMIUM=$(find_chromium); export REPORTS_TEST_CHROMIUM; fi

# --- Restore, format, build -----------------------------------------------------------------------------------------

failed=() # what went wrong and did not stop the run: a badly laid out line must not hide the tests' result

say "Restore"
dotnet tool restore
dotnet restore Reports.sln ${ci:+--locked-mode}

say "Format"
dotnet csharpier check src tests || failed+=("format (dotnet csharpier format src tests)")

say "Build"
dotnet build Reports.sln --no-restore

if [ -d src/Reports.Storage/Migrations ]; then
  say "Migrations"
  eng/migrations.sh check --no-build || failed+=("migrations (eng/migrations.sh add NAME)")
fi

# --- Test -----------------------------------------------------------------------------------------------------------

work=$(mktemp -d)
clean() {
  if [ $postgres = local ]; then eng/pg-temp.sh stop "$work/pg"; fi
  rm -rf "$work"
}
trap clean EXIT
trap 'exit 130' INT TERM

if [ $postgres = local ]; then
  say "PostgreSQL"
  chmod 711 "$work" # the server's account must reach its folder
  # The test runner must not hold the script's output open, nor the server the runner's: hence the file.
  eng/pg-temp.sh start "$work/pg" >"$work/conn"
  REPORTS_TEST_POSTGRES=$(cat "$work/conn")
  export REPORTS_TEST_POSTGRES
  echo "$REPORTS_TEST_POSTGRES"
fi

# One project after the other: each already uses every core, and the tests that wait for a brief should not wait for the
# statistics of another project.
passed=0 broken=0 skipped=0
for project in tests/*.Tests/*.csproj; do
  name=$(basename "$project" .csproj)
  if [ -n "$fast" ] && [ "$name" = Reports.Browser.Tests ]; then continue; fi
  say "$name"
  rc=0
  dotnet test --project "$project" --no-build --no-ansi --no-progress "${filter[@]}" 2>&1 | tee "$work/log" || rc=$?
  # The numbers below the last summary line; a test may print what looks like one.
  read -r total p f s < <(
    awk '/^Test run summary:/ { t = p = f = s = 0; found = 1 }
         /^ *total: [0-9]+$/ { t = $2 } /^ *succeeded: [0-9]+$/ { p = $2 }
         /^ *failed: [0-9]+$/ { f = $2 } /^ *skipped: [0-9]+$/ { s = $2 }
         END { if (found) print t, p, f, s; else print "none", 0, 0, 0 }' "$work/log"
  )
  passed=$((passed + p)) broken=$((broken + f)) skipped=$((skipped + s))
  # 8: no test ran. With a filter that is one project's normal answer.
  if [ $rc = 8 ] && [ ${#filter[@]} -gt 0 ]; then continue; fi
  if [ $rc != 0 ] || [ "$total" = none ]; then
    failed+=("$name (exit code $rc)")
    while read -r test; do failed+=("$test"); done < <(sed -n 's/^failed //p' "$work/log")
  fi
done

if [ $((passed + broken)) = 0 ]; then failed+=("no test ran"); fi
if [ -n "$ci" ] && [ $skipped != 0 ]; then failed+=("skipped tests"); fi
echo
for one in "${failed[@]}"; do echo "FAILED: $one"; done
echo "$passed passed, $broken failed, $skipped skipped"
[ ${#failed[@]} = 0 ]
