#!/usr/bin/env bash
# Health check for an image that has bash and neither curl nor wget: exit code 0 when the path answers 200.
#   health.sh /health/ready [port]
set -euo pipefail
exec 3<>"/dev/tcp/127.0.0.1/${2:-8080}"
printf 'GET %s HTTP/1.0\r\nHost: localhost\r\n\r\n' "$1" >&3
read -r _ status _ <&3
[ "$status" = 200 ]
