/** Worked examples of the API description, each sent to a running server by a test. */
export const NEW_PLATFORM_EXAMPLE = {
  code: 'heron-c',
  name: 'Heron C',
  family: 'heron',
  layout: 'valve-integral-receiver',
  compressor: 'variable-commanded',
  refrigerant: 'R-134a',
  chargeG: 560,
  reserveShare: 0.18,
  highSidePort: 'liquid-line-after-drier',
  highSideTransducer: 'compressor-discharge',
  lowSidePort: 'compressor-suction',
  transducerReference: 'sealed-gauge',
  dualEvaporator: false,
  condenserPasses: 3,
  subcoolShare: 0.2,
  coolerZones: [{ left: 0, right: 0.4, top: 0.1, bottom: 0.9, name: 'Charge-air cooler' }],
  firstYear: 2014,
  lastYear: 2021,
  vinPatterns: [],
};
export const PLATFORM_PATCH_EXAMPLE = { chargeG: 550, lastYear: 2022 };
