#!/bin/sh
# Installs drywind into .venv and runs the main job on the demo yard: real past weather, the clock
# running fast, no network beyond the package index. Leaves .venv/bin/drywind.
set -eu
cd "$(dirname "$0")/.."
sh requirements/install.sh demo
exec .venv/bin/python demo/run.py
