"""How people and programs reach dyecast: behaviour of the command line, the documents and the reports."""
