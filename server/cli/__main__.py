"""python -m server.cli is the command beaconry."""

from server.cli import main

raise SystemExit(main())
