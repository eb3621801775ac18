"""The SQLite record encrypted whole: its key, its file, Django's way to it.

The file is one of SQLCipher: each page is encrypted (AES-256) and authenticated (HMAC-SHA512) apart, its log
(`-wal`) alike, and what SQLite puts by meanwhile stays in memory. The program opens either every SQLite file
encrypted or none: the record, the copies that a backup makes of it, those that are opened and counted.
"""
