#!/usr/bin/env python3
"""Makes ../gauge_flow.json: orifice flows of air and air pressure by height from reference libraries.

Density of air: PyPI CoolProp. Mass flow, nozzle expansibility, standard atmosphere: PyPI fluids.
The pipe is made 10 m wide so that the velocity of approach vanishes.
Run: python3 -m venv v && v/bin/pip install fluids==1.3.1 CoolProp==8.0.0 && v/bin/python gauge_flow.py > ../gauge_flow.json
"""
import json
import CoolProp
import fluids
from CoolProp.CoolProp import PropsSI
from fluids.atmosphere import ATMOSPHERE_1976
from fluids.constants import inch
from fluids.flow_meter import flow_meter_discharge, nozzle_expansibility

IN_H2O, T, P, CD, WIDE, K = 249.089, 293.15, 101325.0, 0.61, 10.0, 1.4
rho = PropsSI("D", "T", T, "P", P, "Air")
rows = []
for d_in in (0.020, 0.040, 0.090):
    for dp in (2.5, 7.5, 14.0, 30.0):
        d, pa = d_in * inch, dp * IN_H2O
        flow = flow_meter_discharge(WIDE, d, P + pa, P, rho, CD) / rho
        # Under pressure the gas upstream is denser; the flow is counted at room density.
        up = PropsSI("D", "T", T, "P", P + pa, "Air")
        pressed = flow_meter_discharge(WIDE, d, P + pa, P, up, CD, nozzle_expansibility(WIDE, d, P + pa, P, K)) / rho
        sucked = flow_meter_discharge(WIDE, d, P, P - pa, rho, CD, nozzle_expansibility(WIDE, d, P, P - pa, K)) / rho
        rows.append({"hole_in": d_in, "inh2o": dp, "l_min": flow * 6e4,
                     "l_min_pressed": pressed * 6e4, "l_min_sucked": sucked * 6e4})
air = [{"metres": h, "pa": ATMOSPHERE_1976(h).P} for h in (0.0, 500.0, 762.0, 1000.0, 1524.0, 2000.0, 2286.0, 3000.0, 4500.0)]
density = [{"pa": p, "kelvin": t, "kg_m3": PropsSI("D", "T", t, "P", p, "Air")}
           for p in (70121.0, 89876.0, 101325.0) for t in (253.15, 293.15, 313.15)]
print(json.dumps({"fluids": fluids.__version__, "coolprop": CoolProp.__version__, "cd": CD, "density": density,
                  "flows": rows, "air": air}, indent=1))
