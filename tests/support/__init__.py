# SPDX-License-Identifier: GPL-3.0-or-later
"""What tests share: independent solvers, makers of captures, stores and results, check values. Holds no tests."""
