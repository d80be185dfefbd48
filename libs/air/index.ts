export { standardAtmosphereElevation, standardAtmospherePressure } from './atmosphere.js';
