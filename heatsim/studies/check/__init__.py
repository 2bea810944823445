# SPDX-License-Identifier: GPL-3.0-or-later
"""`check`: a scenario simulated, measured and judged; all other studies build on it."""
