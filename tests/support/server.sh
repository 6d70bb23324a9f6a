# For session scripts: a server on loopback, in the present folder, with the demo's day. Sourced; the
# script has set fieldpegd and knows how to fail.

start() {  # PORT, 0 for any
    "$fieldpegd" --day day.toml --listen "127.0.0.1:$1" --board 127.0.0.1:0 --no-discovery 2> server.txt &
    server=$!
    for _ in $(seq 200); do
        grep -qs 'stop with Ctrl-C' server.txt && return
        sleep 0.05
    done
    fail "the server did not start: $(cat server.txt)"
}

stop() {
    kill -TERM "$server"
    wait "$server" || fail "the server did not end well"
    server=
}

port_of_server() { sed -n 's/.* at 127.0.0.1:\([0-9]*\),.*/\1/p' server.txt; }

ticket_of() { grep -A1 "# $1" day.tickets | tail -n 1 > "$1.ticket"; }  # ROLE
