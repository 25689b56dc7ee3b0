#!/usr/bin/env bash
# A private, throw-away PostgreSQL for tests: a free loopback port, no fsync, trust on loopback only. Never for real data.
#
#   eng/pg-temp.sh start DIR    starts a server in DIR and prints its connection string (also kept in DIR/conn)
#   eng/pg-temp.sh stop DIR     stops that server and deletes DIR
#
# DIR must be short (the socket's path has a limit of about 100 bytes) and, for root, reachable by the account `postgres`.
# PG_BIN names the folder of initdb and postgres where they are not Debian's.
set -euo pipefail
cmd=${1:?start or stop} dir=${2:?a directory}

if [ "$cmd" = stop ]; then
  pid=$(cat "$dir/pid" 2>/dev/null || true)
  # SIGINT is PostgreSQL's "fast" shutdown.
  if [ -n "$pid" ] && kill -INT "$pid" 2>/dev/null; then
    for _ in $(seq 100); do kill -0 "$pid" 2>/dev/null || break; sleep 0.1; done
    if kill -0 "$pid" 2>/dev/null; then kill -QUIT "$pid"; fi
  fi
  # Only a folder that this script made is deleted.
  if [ -e "$dir/pid" ]; then rm -rf "$dir"; fi
  exit 0
fi
[ "$cmd" = start ] || { echo "start or stop, not '$cmd'" >&2; exit 2; }

bin=${PG_BIN:-$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -1)}
if [ ! -x "$bin/initdb" ] && command -v initdb >/dev/null; then bin=$(dirname "$(readlink -f "$(command -v initdb)")"); fi
[ -x "$bin/initdb" ] || { echo "No PostgreSQL server binaries: apt-get install postgresql, or set PG_BIN." >&2; exit 3; }

mkdir -p "$dir"
dir=$(cd "$dir" && pwd)
[ -z "$(ls -A "$dir")" ] || { echo "$dir is not empty" >&2; exit 2; }

# PostgreSQL refuses to run as root: drop to an account without privileges. setpriv execs, so that $! below is the server
# itself; su and runuser would fork.
as=()
if [ "$(id -u)" = 0 ]; then
  user=postgres
  id "$user" >/dev/null 2>&1 || user=nobody
  chown "$user" "$dir"
  chmod 711 "$dir"
  as=(setpriv --reuid="$user" --regid="$(id -g "$user")" --clear-groups)
fi

cd "$dir"
"${as[@]}" "$bin/initdb" -D "$dir/data" -U postgres -A trust -E UTF8 --locale=C.UTF-8 --no-sync >"$dir/initdb.log" 2>&1 ||
  { cat "$dir/initdb.log" >&2; exit 1; }

# A port may be taken: then the server ends at once and the next one is tried.
for _ in 1 2 3 4 5; do
  port=$(shuf -i 20000-32000 -n 1)
  "${as[@]}" "$bin/postgres" -D "$dir/data" -p "$port" \
    -c listen_addresses=127.0.0.1 -c unix_socket_directories="$dir" \
    -c fsync=off -c synchronous_commit=off -c full_page_writes=off \
    -c max_connections=200 -c shared_buffers=128MB -c log_min_messages=warning \
    </dev/null >"$dir/pg.log" 2>&1 &
  echo $! >"$dir/pid"
  for _ in $(seq 200); do
    # Written by the server when it takes connections: needs no client tool.
    if grep -qs '^ready' data/postmaster.pid; then
      echo "Host=127.0.0.1;Port=$port;Username=postgres;Database=postgres" | tee "$dir/conn"
      exit 0
    fi
    kill -0 "$(cat "$dir/pid")" 2>/dev/null || break
    sleep 0.1
  done
  # Neither ready nor ended after 20 s: not a matter of the port.
  if kill -0 "$(cat "$dir/pid")" 2>/dev/null; then kill -QUIT "$(cat "$dir/pid")"; break; fi
done
cat "$dir/pg.log" >&2
exit 1
