"""`python -m prep` is the command `prep`."""

from prep.cli import main

if __name__ == "__main__":
    main()
