/**
 * What a fluid's run-time tables answer. Every method takes and returns plain SI numbers and allocates nothing, so that a solver may call it
 * thousands of times; outside its bounds it throws OutOfRange. How the tables are made and how far they may be trusted: `tables.ts`.
 *
 *   p    Pa absolute          h    J/kg (200 kJ/kg for saturated liquid at 0 °C)
 *   T    K                    s    J/(kg K) (1 kJ/(kg K) for saturated liquid at 0 °C)
 *   rho  kg/m3
 */
export interface FluidTables {
  /** Bounds of the (p,h) and (p,s) methods. */
  readonly pMin: number;
  readonly pMax: number;
  readonly hMin: number;
  readonly hMax: number;
  /** Upper bound of the saturation methods: they reach nearer to the critical point than the (p,h) tables do. */
  readonly pSaturationMax: number;
  readonly tSaturationMin: number;
  readonly tSaturationMax: number;
  readonly pCritical: number;
  readonly tCritical: number;

  /** Saturation temperature at p. */
  tSat(p: number): number;
  /** Saturation pressure at T. */
  pSat(T: number): number;
  /** Saturated liquid and saturated vapour at p. */
  hLiquid(p: number): number;
  hVapour(p: number): number;
  sLiquid(p: number): number;
  sVapour(p: number): number;
  rhoLiquid(p: number): number;
  rhoVapour(p: number): number;
  /** Isobaric heat capacity of the saturated phases, J/(kg K). */
  cpLiquid(p: number): number;
  cpVapour(p: number): number;

  /** Subcooled liquid, two-phase mixture or superheated vapour, whichever (p,h) is. */
  T(p: number, h: number): number;
  rho(p: number, h: number): number;
  s(p: number, h: number): number;
  /** Specific enthalpy at (p,s): the end of an isentropic compression. */
  hPS(p: number, s: number): number;
  /** Specific enthalpy of the single phase at (p,T): liquid below the saturation temperature, vapour above it. */
  hPT(p: number, T: number): number;
  /** Vapour mass fraction (h - hL)/(hV - hL): below 0 subcooled, above 1 superheated. */
  quality(p: number, h: number): number;
}
