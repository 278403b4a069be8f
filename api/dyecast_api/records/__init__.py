"""What the shop's tables say, as small values: shared by the HTTP interface and the pages.

Each function takes a connection and the number of the shop; none sees another shop's rows.
"""
