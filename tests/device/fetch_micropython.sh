#!/usr/bin/env bash
# Puts Debian's MicroPython into build/micropython, for tests on a machine whose own release has no such package.
# Nothing of the machine is changed: its packages are fetched from the release that has them and unpacked side by side.
set -euo pipefail
cd "$(dirname "$0")/../.."
release=${MICROPYTHON_RELEASE:-trixie}
folder=$PWD/build/micropython
packages=(micropython libc6 libffi8 libmbedcrypto16 libmbedtls21 libmbedx509-7)

if [[ -x $folder/micropython ]]; then exit 0; fi
rm -rf "$folder"
mkdir -p "$folder"/{root,lists/partial,cache/archives/partial}
echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] http://deb.debian.org/debian $release main" > "$folder/sources.list"
apt=(apt-get -q -o Dir::Etc::sourcelist="$folder/sources.list" -o Dir::Etc::sourceparts=- -o Dir::State::lists="$folder/lists"
     -o Dir::Cache="$folder/cache" -o APT::Sandbox::User=root
     -o Acquire::Retries=1 -o Acquire::http::Timeout=20)
"${apt[@]}" update
(cd "$folder" && "${apt[@]}" download "${packages[@]}")
for package in "$folder"/*.deb; do dpkg-deb -x "$package" "$folder/root"; done
rm -rf "$folder"/*.deb "$folder/lists" "$folder/cache"

loader=$(find "$folder/root" -name 'ld-linux*' | head -n 1)
cat > "$folder/micropython.part" <<RUN
#!/bin/sh
exec "$loader" --library-path "$(dirname "$loader")" "$folder/root/usr/bin/micropython" "\$@"
RUN
chmod +x "$folder/micropython.part"
"$folder/micropython.part" -c 'import json, socket, time'
mv "$folder/micropython.part" "$folder/micropython"
