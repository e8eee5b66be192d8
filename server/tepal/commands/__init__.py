"""One module per subcommand of `tepal`: arguments in, exit code out.

May know: everything below. May not: hold logic that a service or a pure room should hold.
Each module has `register(subparsers)` and `run(args) -> int`. Start reading: ../cli.py.
"""
