"""The demo caseload: invented families of an invented service, always fresh."""
