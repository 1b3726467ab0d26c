"""The example businesses: invented facts from `fixtures/demo/`, told to the services day by day.

One folder is one business, named by its slug. The same day gives the same records; a later day only adds to them.
"""
