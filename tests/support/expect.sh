# For session scripts: what the command line answers. Sourced; the script has set fieldpeg.

fail() { echo "$(basename "$0" .sh): $1" >&2; cat out.txt >&2 || true; exit 1; }
# expect STATUS 'TEXT' ARGUMENTS...: the text must be in what is printed, on stdout or stderr.
expect() {
    local status=$1 text=$2 got=0
    shift 2
    "$fieldpeg" "$@" > out.txt 2>&1 < /dev/null || got=$?
    [ "$got" -eq "$status" ] || fail "'$*': exit status $got, expected $status"
    grep -qF -- "$text" out.txt || fail "'$*': '$text' is missing"
}
