"""The shop's server: an HTTP interface and pages over the shop's database, and workers beside it."""
