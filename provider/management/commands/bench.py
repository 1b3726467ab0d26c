"""`manage.py bench --only sign_in --years 20 --json FILE`: how fast it is, on an invented business of its own."""

import json
import os
import subprocess
import sys
import tempfile
from argparse import SUPPRESS
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.module_loading import autodiscover_modules

from provider import bench
from provider.models import Provider

# What would lead to somebody's records, or turn every request into a redirect.
ELSEWHERE = ("DATABASE_URL", "PUBLIC_URL", "BEHIND_PROXY", "DEBUG", "EMAIL_HOST")


class Command(BaseCommand):
    help = "Build an invented business with years of records in a temporary place and measure how fast it is."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--only", action="append", metavar="NAME", help="measure this only; may be repeated")
        parser.add_argument("--years", type=int, default=20, help="years of records (default: %(default)s)")
        parser.add_argument("--json", type=Path, metavar="FILE", help="write the results there as well")
        parser.add_argument("--here", action="store_true", help=SUPPRESS)  # the inner run, in the temporary place

    def handle(
        self, *args: Any, only: list[str] | None, years: int, json: Path | None, here: bool, **options: Any
    ) -> None:
        autodiscover_modules("bench")
        unknown = sorted(set(only or ()) - set(bench.MEASURES))
        if unknown:
            raise CommandError(f"Unknown: {', '.join(unknown)}. There is: {', '.join(bench.MEASURES)}")
        if not 1 <= years <= 50:
            raise CommandError("The number of years is from 1 to 50.")
        if not here:
            self._again(only or [], years, json)
            return
        if Provider.objects.exists():
            raise CommandError("This database holds a business. The benchmark builds its own in an empty one.")
        bed = bench.make_bed(years)
        results = [bench.MEASURES[name](bed) for name in only or bench.MEASURES]
        self._print(results, years)
        if json:
            _write(json, results)

    def _again(self, only: list[str], years: int, file: Path | None) -> None:
        """Run the same command over an empty data directory, which is thrown away."""
        with tempfile.TemporaryDirectory(prefix="bench-") as place:
            env = {name: value for name, value in os.environ.items() if name not in ELSEWHERE} | {"DATA_DIR": place}
            command = [sys.executable, sys.argv[0]]
            subprocess.run([*command, "migrate", "--verbosity", "0"], env=env, check=True)
            subprocess.run([*command, "collectstatic", "--no-input", "--verbosity", "0"], env=env, check=True)
            command += ["bench", "--here", "--years", str(years)]
            command += [word for name in only for word in ("--only", name)]
            command += ["--json", str(file.resolve())] if file else []
            done = subprocess.run(command, env=env, check=False)
        if done.returncode:
            raise CommandError("The benchmark failed; see above.", returncode=done.returncode)

    def _print(self, results: list[bench.Result], years: int) -> None:
        self.stdout.write(f"{years} years of records")
        self.stdout.write(f"{'measure':24}{'median':>10}{'floor':>10}{'ratio':>8}{'queries':>9}  aim")
        for row in results:
            told = f"{row.aim}: {'met' if row.met else 'NOT MET'}"
            self.stdout.write(
                f"{row.name:24}{row.median_ms:>7.1f} ms{row.floor_ms:>7.2f} ms{row.ratio:>8.1f}{row.queries:>9}  {told}"
            )


def _write(file: Path, results: list[bench.Result]) -> None:
    file.write_text(json.dumps([asdict(row) for row in results], indent=2) + "\n", encoding="utf-8")
