"""The database's versions, one numbered SQL file each; a shipped file never changes."""
