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
  saturationCurve: 'Query.saturationCurve',
  cyclesOfReadings: 'Query.cyclesOfReadings',
  cyclesOfCase: 'Query.cyclesOfCase',
  listPhotographs: 'Query.photographs',
  removePhotograph: 'Mutation.removePhotograph',
  // Pictures travel over REST alone.
  addPhotograph: null,
  getPhotograph: null,
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
  shopWeather: 'Query.shopWeather',
  putWeather: 'Mutation.putWeather',
  getTask: 'Query.task',
  getVehicle: 'Query.vehicle',
  keyUsage: 'Query.keyUsage',
  listMerges: 'Query.vehicleMerges',
  mergeVehicles: 'Mutation.mergeVehicles',
  undoMerge: 'Mutation.undoMerge',
  groupedReturns: 'Query.groupedReturns',
  holdingOdds: 'Query.holdingOdds',
  refrigerantLedger: 'Query.refrigerantLedger',
  listMachines: 'Query.machines',
  addMachine: 'Mutation.addMachine',
  changeMachine: 'Mutation.changeMachine',
  removeMachine: 'Mutation.removeMachine',
  listCylinders: 'Query.cylinders',
  addCylinder: 'Mutation.addCylinder',
  changeCylinder: 'Mutation.changeCylinder',
  removeCylinder: 'Mutation.removeCylinder',
  listRefrigerantEntries: 'Query.refrigerantEntries',
  addRefrigerantEntry: 'Mutation.addRefrigerantEntry',
  changeRefrigerantEntry: 'Mutation.changeRefrigerantEntry',
  removeRefrigerantEntry: 'Mutation.removeRefrigerantEntry',
  correctImportRow: 'Mutation.correctImportRow',
  getImport: 'Query.import',
  trustDocument: 'Mutation.trustDocument',
  listDocuments: 'Query.trustedDocuments',
  distrustDocument: 'Mutation.distrustDocument',
  getSignInService: 'Query.signInService',
  setSignInService: 'Mutation.setSignInService',
  removeSignInService: 'Mutation.removeSignInService',
  setPin: 'Mutation.setPin',
  removePin: 'Mutation.removePin',
  // Sessions live in cookies.
  openSession: null,
  getSession: null,
  endSession: null,
  listSessionPeople: null,
  signIn: null,
  signOut: null,
  changeOwnPin: null,
  // Files, and streams of events, travel over REST alone.
  exportAudit: null,
  exportCases: null,
  exportEpisodes: null,
  exportOrganisation: null,
  importCases: null,
  importErrors: null,
  importEvents: null,
  importTemplate: null,
  issueKey: 'Mutation.issueKey',
  listAudit: 'Query.audit',
  listCases: 'Query.cases',
  listDiagnoses: 'Query.diagnoses',
  listEpisodes: 'Query.episodes',
  listFaults: 'Query.faults',
  listImportRows: 'Query.importRows',
  listImports: 'Query.imports',
  listKeys: 'Query.keys',
  listMappings: 'Query.importMappings',
  listMembers: 'Query.members',
  listPatterns: 'Query.patterns',
  listWatches: 'Query.watches',
  listPolicies: 'Query.policies',
  outcomeRules: 'Query.outcomeRules',
  setOutcomeRules: 'Mutation.setOutcomeRules',
  setPolicy: 'Mutation.setPolicy',
  endPolicy: 'Mutation.endPolicy',
  engineQuality: 'Query.engineQuality',
  learnExpectation: 'Mutation.learnExpectation',
  platformExpectation: 'Query.platformExpectation',
  listJudgedCases: 'Query.judgedCases',
  getRediagnosis: 'Query.rediagnosis',
  listRediagnoses: 'Query.rediagnoses',
  listRediagnosisChanges: 'Query.rediagnosisChanges',
  rediagnosisEvents: null,
  requestRediagnosis: 'Mutation.requestRediagnosis',
  reportPolicy: 'Query.policyReport',
  listPlatforms: 'Query.platforms',
  listShops: 'Query.shops',
  listTasks: 'Query.tasks',
  listUnits: 'Query.units',
  lookUpVehicle: 'Query.lookUpVehicle',
  me: 'Query.me',
  openCase: 'Mutation.openCase',
  proposeReadings: 'Query.proposedReadings',
  recordProof: 'Mutation.recordProof',
  recordQuality: 'Query.recordQuality',
  recordRepair: 'Mutation.recordRepair',
  correctRepair: 'Mutation.correctRepair',
  removeRepair: 'Mutation.removeRepair',
  recordSighting: 'Mutation.recordSighting',
  recurrences: 'Query.recurrences',
  refrigerantBalance: 'Query.refrigerantBalance',
  requestWatchScoring: 'Mutation.requestWatchScoring',
  requestRebuild: 'Mutation.requestRebuild',
  requestPatternScoring: 'Mutation.requestPatternScoring',
  returnCosts: 'Query.returnCosts',
  replayImport: 'Mutation.replayImport',
  returnRates: 'Query.returnRates',
  reviewShops: 'Query.reviewShops',
  revokeKey: 'Mutation.revokeKey',
  rotateKey: 'Mutation.rotateKey',
  saveMapping: 'Mutation.saveMapping',
  similarToCase: 'Query.similarToCase',
  similarToReadings: 'Query.similarToReadings',
  vehicleHistory: 'Query.vehicleHistory',
  voidCase: 'Mutation.voidCase',
  createWebhook: 'Mutation.createWebhook',
  deleteVehicle: 'Mutation.deleteVehicle',
  deleteWebhook: 'Mutation.deleteWebhook',
  enableWebhook: 'Mutation.enableWebhook',
  listDeliveries: 'Query.deliveries',
  listWebhooks: 'Query.webhooks',
  replayDelivery: 'Mutation.replayDelivery',
  rotateWebhookSecret: 'Mutation.rotateWebhookSecret',
  streamEvents: null,
};
/** Fields of GraphQL that REST has no operation for, with the reason. */
export const GRAPHQL_ONLY: Readonly<Record<string, string>> = {
  'Query.node': 'Relay: REST names the kind of a thing in its address',
  'Query.nodes': 'Relay: REST names the kind of a thing in its address',
};

/** Content type and worked example of the body an operation takes; undefined where it takes none. */
export function exampleOf({ operation }: Route): { readonly type: string; readonly body: unknown } | undefined {
  const [content] = Object.entries(operation.requestBody?.content ?? {});
  return content && { type: content[0], body: content[1].example };
}

/** Whether an operation answers with a stream of events, which may never end. */
export const isStream = ({ operation }: Route): boolean =>
  Object.entries(operation.responses).some(
    ([status, { content }]) => status.startsWith('2') && content?.['text/event-stream'] !== undefined,
  );

/** Path of a route with its identifiers filled in. A line of a file is not an identifier: files of these tests have their faulty line second. */
export const filledPath = (path: string, ids: (parameter: string) => string): string =>
  path.replace(/\{(\w+)\}/g, (_, parameter: string) => (parameter === 'line' ? '2' : ids(parameter)));
