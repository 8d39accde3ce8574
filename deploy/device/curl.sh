#!/bin/sh
# The conversation about one cook as plain curl lines: a log of posts comes in, a line each, and goes out as it comes.
#
#     sh curl.sh http://127.0.0.1:8080 < cook.ndjson
#
# Each answer's decision is printed, and at the end who stopped the cook: the service, or the deadline that it gave last.
# A post that is not answered is kept and sent before the next one. COOKSTOP_KEY is sent as a bearer key.
set -eu
url=${1:?usage: sh curl.sh URL < log}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
queue=$folder/queue answer=$folder/answer headers=$folder/headers
state='' stop_by=30 decision=continue
: > "$queue"
# In a file, not on the command line, which everyone on the machine can read.
printf 'Content-Type: application/json\n%s\n' "${COOKSTOP_KEY:+Authorization: Bearer $COOKSTOP_KEY}" > "$headers"

# ask POST: the answer, or nothing where nobody answered
ask() {
    printf '%s' "$1" | curl --silent --show-error --max-time 4 --noproxy '*' \
        --header "@$headers" --data-binary @- --output "$answer" --write-out '%{http_code}' "$url/v1/decisions"
}

# text NAME, number NAME: a field of the answer
text() { sed -n "s/.*\"$1\":\"\([^\"]*\)\".*/\1/p" "$answer"; }
number() { sed -n "s/.*\"$1\":\([0-9.]*\).*/\1/p" "$answer"; }

while [ "$decision" != stop ] && IFS= read -r post; do
    printf '%s\n' "$post" >> "$queue"
    # Everything that waits goes out in order, each with the state of the answer before it.
    while IFS= read -r first < "$queue"; do
        [ -z "$state" ] || first="{\"state\":\"$state\",${first#\{}"
        status=$(ask "$first") || status=none
        case $status in
            200) ;;
            408 | 425 | 429 | 5?? | none | 000) break ;;
            *) printf 'refused: '; cat "$answer"; exit 1 ;;
        esac
        # Whatever else answers in its place changes nothing.
        case $(text decision) in continue | warn | stop) ;; *) break ;; esac
        state=$(text state) stop_by=$(number stop_by_s) decision=$(text decision)
        printf '%s s: %s, stop by %s s\n' "$(number as_of)" "$decision" "$stop_by"
        tail -n +2 "$queue" > "$queue.left" && mv "$queue.left" "$queue"
        [ "$decision" != stop ] || { echo 'stopped by the service'; exit 0; }
    done
    now=$(printf '%s\n' "$post" | sed -n 's/.*"as_of": *\([0-9.]*\).*/\1/p')
    if awk "BEGIN { exit !($now >= $stop_by) }"; then
        printf 'stopped by the deadline at %s s\n' "$now"
        exit 0
    fi
done
echo 'the log ended before a stop' >&2
exit 1
