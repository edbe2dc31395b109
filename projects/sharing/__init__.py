"""A project as a file of its own, to be opened in another studio. `projects/project-file.md` says how it reads."""
