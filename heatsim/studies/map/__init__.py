# SPDX-License-Identifier: GPL-3.0-or-later
"""`map`: over two fields of a scenario, where the heater is usable and which limit ends that."""
