import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { migrationsDirectory } from '#libs/database/index.js';
import type { Document, Operation } from './compare.js';

export const ROOT = join(migrationsDirectory(), '..', '..');
export const CONTRACT = join(ROOT, 'docs', 'contract');

export const committed = (name: string): string => readFileSync(join(CONTRACT, name), 'utf8');
export const committedOpenApi = (): Document => JSON.parse(committed('openapi.json')) as Document;

export interface Route {
  readonly method: string;
  readonly path: string;
  readonly operation: Operation;
}

export function routesOf(document: Document): Route[] {
  return Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]) => ({ method: method.toUpperCase(), path, operation })),
  );
}

/** The field of GraphQL that does what an operation of REST does; null where there is none on purpose. */
export const TWINS: Readonly<Record<string, string | null>> = {
  addFindings: 'Mutation.addFindings',
  addMember: 'Mutation.addMember',
  addPlatform: 'Mutation.addPlatform',
  addReadings: 'Mutation.addReadings',
  addShop: 'Mutation.addShop',
  amendCase: 'Mutation.amendCase',
  changeMember: 'Mutation.changeMember',
  changePlatform: 'Mutation.changePlatform',
  changeShop: 'Mutation.changeShop',
  chargeAccuracy: 'Query.chargeAccuracy',
  closeCase: 'Mutation.closeCase',
  compareRepairs: 'Query.compareRepairs',
  diagnoseCase: 'Mutation.diagnoseCase',
  diagnoseReadings: 'Query.diagnoseReadings',
  getCase: 'Query.case',
  getPlatform: 'Query.platform',
  getShop: 'Query.shop',
  getTask: 'Query.task',
  getVehicle: 'Query.vehicle',
  holdingOdds: 'Query.holdingOdds',
  issueKey: 'Mutation.issueKey',
  listAudit: 'Query.audit',
  listCases: 'Query.cases',
  listDiagnoses: 'Query.diagnoses',
  listEpisodes: 'Query.episodes',
  listFaults: 'Query.faults',
  listKeys: 'Query.keys',
  listMembers: 'Query.members',
  listPatterns: 'Query.patterns',
  listWatches: 'Query.watches',
  listPlatforms: 'Query.platforms',
  listShops: 'Query.shops',
  listTasks: 'Query.tasks',
  listUnits: 'Query.units',
  lookUpVehicle: 'Query.lookUpVehicle',
  me: 'Query.me',
  openCase: 'Mutation.openCase',
  recordProof: 'Mutation.recordProof',
  recordQuality: 'Query.recordQuality',
  recordRepair: 'Mutation.recordRepair',
  recordSighting: 'Mutation.recordSighting',
  recurrences: 'Query.recurrences',
  refrigerantBalance: 'Query.refrigerantBalance',
  requestWatchScoring: 'Mutation.requestWatchScoring',
  requestPatternScoring: 'Mutation.requestPatternScoring',
  returnCosts: 'Query.returnCosts',
  returnRates: 'Query.returnRates',
  reviewShops: 'Query.reviewShops',
  revokeKey: 'Mutation.revokeKey',
  rotateKey: 'Mutation.rotateKey',
  similarToCase: 'Query.similarToCase',
  similarToReadings: 'Query.similarToReadings',
  vehicleHistory: 'Query.vehicleHistory',
  voidCase: 'Mutation.voidCase',
};
/** Fields of GraphQL that REST has no operation for, with the reason. */
export const GRAPHQL_ONLY: Readonly<Record<string, string>> = {};
