#!/usr/bin/env python3
"""The command line of the project: `manage.py start`, `manage.py migrate`, ..."""

import os
import sys

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "provider.config.settings")
    execute_from_command_line(sys.argv)
