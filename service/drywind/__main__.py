"""`python -m drywind` is the same as `drywind`."""

from drywind.cli import main

main()
