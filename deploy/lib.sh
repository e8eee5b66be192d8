# Shared by run.sh and test.sh: sets this checkout up on a bare Debian machine. Sourced, not run.
# Everything it makes lies in .venv, web/tools/node_modules and instance/, all ignored by git.
cd "$(dirname "${BASH_SOURCE[0]}")/.." || exit 1
VENV=.venv

say() { printf '== %s\n' "$*"; }

as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

# debian PACKAGE...: install those that are missing.
debian() {
  local missing=()
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
  done
  [ ${#missing[@]} = 0 ] && return
  say "installing from Debian: ${missing[*]}"
  as_root env DEBIAN_FRONTEND=noninteractive apt-get update -q >/dev/null
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "${missing[@]}" >/dev/null
}

# python_env GROUP: a virtual environment with the package and its extra group (or none).
python_env() {
  local group=${1:-} stamp
  python3 -c 'import ensurepip, venv' 2>/dev/null || debian python3-venv
  [ -x $VENV/bin/python ] || python3 -m venv $VENV
  stamp=$VENV/.tepal-$(cat pyproject.toml deploy/constraints.txt | sha256sum | cut -c1-16)-$group
  if [ ! -e "$stamp" ]; then
    say "installing Python packages${group:+ ($group)}"
    $VENV/bin/python -m pip install -q --disable-pip-version-check -c deploy/constraints.txt -e ".${group:+[$group]}"
    rm -f $VENV/.tepal-*"-$group"
    touch "$stamp"
  fi
}
