"""The shop's database and data folder: what is kept between two commands, and how it is opened.

Tables are plain SQLAlchemy Core tables on one `metadata`, a module a subject; every row names its shop.
The same statements run on SQLite (the default) and PostgreSQL. Rows are written by the functions beside
their tables' users (`press_log`, `server`), never by the stages of an inspection.
"""
