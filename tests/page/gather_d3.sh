#!/usr/bin/env bash
# Puts the parts of d3 that the page draws with (scales, shapes, axes, and what these need) into one file beside it.
set -euo pipefail
parts=(d3-array@3.2.5 d3-color@3.1.1 d3-interpolate@3.0.2 d3-format@3.1.3 d3-scale@4.0.3 d3-path@3.1.1 d3-shape@3.2.1
       d3-selection@3.0.1 d3-axis@3.0.1)
page=$(cd "$(dirname "$0")/../../service/web/static/page" && pwd)
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
cd "$folder"
: > d3.js
for part in "${parts[@]}"; do
    tar -xzf "$(npm pack --silent "$part")"
    cat "package/dist/${part%@*}.min.js" >> d3.js
    echo >> d3.js
    cp package/LICENSE LICENSE
done
cp d3.js "$page/d3.js"
cp LICENSE "$page/d3-licence.txt"
