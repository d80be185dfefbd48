import type { HypothesisCode } from '../codes.js';

/** One sentence per verdict for somebody who has never seen a pressure gauge. */
export const OWNER: Record<HypothesisCode, string> = {
  healthy: 'The cooling circuit does what a sound one would do in this heat; nothing in the measurements asks for a repair.',
  undercharge:
    'There is too little refrigerant in the system, which means it has leaked out somewhere; refilling without finding the leak helps only for a time.',
  overcharge: 'There is more refrigerant in the system than the maker specifies; it should be taken out and filled in again by weight.',
  'air-in-system':
    'Air has got into the circuit and takes the place of refrigerant; the system has to be emptied, drawn down to vacuum and refilled.',
  'wrong-refrigerant': 'The gas in the system does not seem to be the right one; it has to be identified and taken out separately.',
  moisture: 'Water in the circuit freezes and thaws inside; the part that dries the refrigerant is used up and has to be renewed.',
  'excess-oil': 'There is too much oil in the circuit, which keeps it from cooling properly.',
  'low-oil': 'The compressor seems to run short of oil; left so it will wear out.',
  'condenser-dirt': 'The radiator-like part in front of the car is blocked from outside and gets too little air; cleaning may be enough.',
  'condenser-fan': 'The fan that cools the front part of the system does not do its work, so cooling fails when the car stands still.',
  'condenser-passages':
    'The condenser in front of the car is clogged inside; it cannot be flushed clean and has to be replaced, together with whatever sent the debris there.',
  'filter-cartridge':
    'The filter on the condenser is clogged; it can be changed by itself, but the source of the dirt must be found or it will clog again.',
  'liquid-line-restriction': 'A pipe or the drier between the front and the dashboard is partly blocked and has to be replaced.',
  'discharge-line-restriction': 'The hose that leaves the compressor is partly blocked and has to be replaced.',
  'valve-restricted': 'The valve that meters refrigerant into the dashboard lets too little through and has to be replaced.',
  'valve-stuck-open': 'The valve that meters refrigerant into the dashboard lets too much through and has to be replaced.',
  'orifice-clogged': 'The small tube that meters the refrigerant is clogged; its screen will show where the dirt comes from.',
  'orifice-oversize': 'The small tube that meters the refrigerant lets too much through; it may be the wrong part.',
  'suction-restriction': 'A hose or pipe on the way back to the compressor is partly blocked and has to be replaced.',
  'compressor-leakage': 'The compressor no longer seals inside and moves too little refrigerant; it has to be replaced.',
  'compressor-wear':
    'The compressor is wearing out and sheds metal into the system; it has to be replaced together with the parts that caught the metal.',
  'displacement-stuck-low': 'The compressor is stuck at low output and does not follow its control.',
  'displacement-stuck-high': 'The compressor is stuck at full output, so the cooling part behind the dashboard ices up.',
  'clutch-slip': 'The belt or the clutch of the compressor slips.',
  'electric-compressor-limited': 'The electric compressor is held back by its control or its electrics.',
  'evaporator-airflow': 'Too little air passes through the dashboard, often because of a blocked cabin filter or a weak blower.',
  'evaporator-fouling': 'The cooling part behind the dashboard is dirty.',
  'air-door': 'The circuit cools well, but a flap or the heater warms the air again on its way.',
  'pressure-sensor-bias': 'A pressure sensor of the car reports wrong values, and the control acts on them.',
  'temperature-sensor-bias': 'A temperature sensor reports wrong values, and the control acts on them.',
  'compressor-inhibited': 'The compressor is not allowed to start; the reason for the lock has to be found.',
  sealant: 'A leak-stopping chemical was put into the system; it harms its small parts and the shop’s equipment.',
  'second-circuit': 'The second branch of the system (rear or battery cooling) takes the wrong share of the refrigerant.',
  'manifold-valves-open': 'The measurement has to be repeated; a valve of the shop’s gauge set was open.',
  'port-not-opened': 'The measurement has to be repeated; the gauge was not connected fully.',
  'gauge-bias': 'The shop’s gauge seems to be off; the measurement has to be repeated with another one.',
  'transducer-bias': 'A value was read on the wrong scale; the measurement has to be read again before anything is replaced.',
  'sample-unsettled': 'The measurement was taken too early and has to be repeated after ten minutes of running.',
};
