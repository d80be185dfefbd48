/** The part of psychrolib 1.1.1 used here, in SI: °C, Pa, kg water per kg dry air, J/kg dry air, m3/kg dry air, relative humidity 0 to 1. */
declare module 'psychrolib' {
  interface Psychrolib {
    readonly SI: unknown;
    SetUnitSystem(system: unknown): void;
    GetSatVapPres(tDryBulb: number): number;
    GetSatHumRatio(tDryBulb: number, pressure: number): number;
    GetHumRatioFromRelHum(tDryBulb: number, relHum: number, pressure: number): number;
    GetHumRatioFromTWetBulb(tDryBulb: number, tWetBulb: number, pressure: number): number;
    GetHumRatioFromTDewPoint(tDewPoint: number, pressure: number): number;
    GetRelHumFromHumRatio(tDryBulb: number, humRatio: number, pressure: number): number;
    GetTWetBulbFromHumRatio(tDryBulb: number, humRatio: number, pressure: number): number;
    GetTDewPointFromHumRatio(tDryBulb: number, humRatio: number, pressure: number): number;
    GetMoistAirEnthalpy(tDryBulb: number, humRatio: number): number;
    GetTDryBulbFromEnthalpyAndHumRatio(enthalpy: number, humRatio: number): number;
    GetMoistAirVolume(tDryBulb: number, humRatio: number, pressure: number): number;
  }
  const psychrolib: Psychrolib;
  export = psychrolib;
}
