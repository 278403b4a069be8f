"""How people and programs reach dyecast: the command line, the documents and the reports it writes."""
