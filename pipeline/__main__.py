"""`python -m pipeline`: the same door as the `levelhold` command."""

from pipeline.cli import main

if __name__ == "__main__":
    main()
