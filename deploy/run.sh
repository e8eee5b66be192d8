#!/usr/bin/env bash
# Set Tepal up and serve it.
#   bash deploy/run.sh         serve the instance in ./instance (first start prints the set-up token)
#   bash deploy/run.sh demo    serve an invented nursery in ./instance/demo, on this machine only
# Further arguments go to `tepal serve` (see `tepal serve --help`).
set -euo pipefail
case ${1:-} in
--help | -h)
  sed -n '2,5s/^# \{0,1\}//p' "$0"
  exit 0
  ;;
esac
. "$(dirname "$0")/lib.sh"
python_env
if [ "${1:-}" = demo ]; then
  shift
  export TEPAL_INSTANCE=instance/demo
  $VENV/bin/tepal demo
  say "open http://127.0.0.1:8440 (Ctrl-C stops the server)"
fi
exec $VENV/bin/tepal serve "$@"
