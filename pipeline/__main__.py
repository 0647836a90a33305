"""``python -m pipeline``: the command without its place on the PATH."""

from pipeline.cli import main

if __name__ == "__main__":
    main(prog_name="python -m pipeline")
