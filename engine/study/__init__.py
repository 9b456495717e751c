"""What was asked? A study file, or texts, to one frozen `Study`; every mistake with its line.

`reader` is the way in. A section of the file is a module of its own name, and every number is SI
once it is in one. What was decided, and why:

- Text until it is read. PyYAML guesses numbers, dates and yes; here every scalar stays text with
  its line (`yaml_text`), and pydantic makes the value. So a message can name line, key and remedy.
- The supply section makes its fluid while it is read, so that a state outside a fluid's range is
  an error with a line.
- A fit is put into the study's text in place of its file's name, on the same line (`fit_file`).
  The run's copy and hash hold the numbers, and the lines of messages stay. A link, or a path out
  of the study's folder, is refused.
- A robust study becomes a study of other columns while it is read; see `engine.bands`.
"""
