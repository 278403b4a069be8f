"""The press model: heat through the stack under the platen, and what it does to dye and coating."""
