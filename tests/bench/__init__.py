"""Commands that measure, on invented cooks and on this machine alone. They assert nothing: `python -m tests.bench.stages` etc."""
