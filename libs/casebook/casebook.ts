import { inTenant, type Pool, type Tx } from '#libs/database/index.js';
import { AccessService } from './access/access.service.js';
import { SessionsService } from './access/sessions.service.js';
import { TokensService } from './access/tokens.service.js';
import { UsageService } from './access/usage.service.js';
import { AuditService } from './audit/audit.service.js';
import { CasesService } from './cases/cases.service.js';
import { boundTo, type CasebookContext } from './context.js';
import { CycleService } from './diagnosis/cycle.service.js';
import { DiagnosisService } from './diagnosis/diagnosis.service.js';
import { ExpectationService } from './diagnosis/expectation.service.js';
import { QualityService } from './diagnosis/quality.service.js';
import { RediagnosisService } from './diagnosis/rediagnosis.service.js';
import { DocumentsService } from './documents/documents.service.js';
import { DeliveryService } from './events/delivery.service.js';
import { WebhooksService } from './events/webhooks.service.js';
import { HistoryService } from './history/history.service.js';
import { ImportsService } from './imports/imports.service.js';
import { LeavingService } from './leaving/leaving.service.js';
import { LedgerService } from './ledger/ledger.service.js';
import { NodesService } from './nodes/nodes.service.js';
import { BoardService } from './outcomes/board.service.js';
import { HoldingService } from './outcomes/holding.service.js';
import { LinkingService } from './outcomes/linking.service.js';
import { OutcomeRulesService } from './outcomes/outcome-rules.service.js';
import { OutcomesService } from './outcomes/outcomes.service.js';
import { PatternsService } from './outcomes/patterns.service.js';
import { RebuildService } from './outcomes/rebuild.service.js';
import { ShopsReviewService } from './outcomes/shops-review.service.js';
import { WatchesService } from './outcomes/watches.service.js';
import { PhotographsService } from './photographs/photographs.service.js';
import { PlatformsService } from './platforms/platforms.service.js';
import { PoliciesService } from './policies/policies.service.js';
import { RepairsService } from './repairs/repairs.service.js';
import { ShopsService } from './shops/shops.service.js';
import { WeatherService } from './shops/weather.service.js';
import { TasksService } from './tasks/tasks.service.js';
import { MergesService } from './vehicles/merges.service.js';
import { untilStill } from './vehicles/vehicle-moved.js';
import { VehiclesService } from './vehicles/vehicles.service.js';

/** Every operation of the product, by noun. Transports call these and decide nothing themselves. */
export class Casebook {
  readonly access: AccessService;
  readonly sessions: SessionsService;
  readonly tokens: TokensService;
  readonly usage: UsageService;
  readonly audit: AuditService;
  readonly shops: ShopsService;
  readonly weather: WeatherService;
  readonly platforms: PlatformsService;
  readonly vehicles: VehiclesService;
  readonly merges: MergesService;
  readonly cases: CasesService;
  readonly photographs: PhotographsService;
  readonly diagnosis: DiagnosisService;
  readonly cycles: CycleService;
  readonly expectation: ExpectationService;
  readonly quality: QualityService;
  readonly rediagnosis: RediagnosisService;
  readonly repairs: RepairsService;
  readonly outcomes: OutcomesService;
  readonly outcomeRules: OutcomeRulesService;
  readonly boards: BoardService;
  readonly holding: HoldingService;
  readonly ledger: LedgerService;
  readonly policies: PoliciesService;
  readonly patterns: PatternsService;
  readonly watches: WatchesService;
  readonly rebuilds: RebuildService;
  readonly shopsReview: ShopsReviewService;
  readonly history: HistoryService;
  readonly tasks: TasksService;
  readonly imports: ImportsService;
  readonly webhooks: WebhooksService;
  readonly delivery: DeliveryService;
  readonly leaving: LeavingService;
  readonly documents: DocumentsService;
  readonly nodes: NodesService;

  constructor(readonly context: CasebookContext) {
    const linking = new LinkingService();
    this.access = new AccessService(context);
    this.tokens = new TokensService(context);
    this.usage = new UsageService(context);
    this.sessions = new SessionsService(context);
    this.audit = new AuditService(context);
    this.shops = new ShopsService(context);
    this.weather = new WeatherService(context);
    this.platforms = new PlatformsService(context);
    this.vehicles = new VehiclesService(context, this.platforms, linking);
    this.merges = new MergesService(context, linking);
    this.tasks = new TasksService(context);
    this.expectation = new ExpectationService(context, this.tasks);
    this.rediagnosis = new RediagnosisService(context, this.tasks, this.expectation);
    this.diagnosis = new DiagnosisService(context, {
      shops: this.shops,
      platforms: this.platforms,
      rediagnosis: this.rediagnosis,
      expectation: this.expectation,
    });
    this.cycles = new CycleService(context, this.diagnosis);
    this.quality = new QualityService(context);
    this.cases = new CasesService(context, {
      shops: this.shops,
      platforms: this.platforms,
      vehicles: this.vehicles,
      linking,
      diagnosis: this.diagnosis,
    });
    this.photographs = new PhotographsService(context);
    this.repairs = new RepairsService(context, linking, this.cases);
    this.outcomes = new OutcomesService(context, this.tasks);
    this.outcomeRules = new OutcomeRulesService(context);
    this.holding = new HoldingService(context);
    this.ledger = new LedgerService(context);
    this.policies = new PoliciesService(context);
    this.shopsReview = new ShopsReviewService(context);
    this.history = new HistoryService(context, this.diagnosis);
    this.documents = new DocumentsService(context);
    this.nodes = new NodesService(context);
    this.webhooks = new WebhooksService(context, this.tasks);
    this.delivery = new DeliveryService(context, this.tasks);
    this.leaving = new LeavingService(context, { access: this.access, linking });
    this.imports = new ImportsService(context, { within: (tx, orgId) => this.within(tx, orgId) });
    this.patterns = new PatternsService(context, this.tasks);
    this.watches = new WatchesService(context, this.tasks);
    this.boards = new BoardService(context, this.tasks);
    this.rebuilds = new RebuildService(context, { tasks: this.tasks, boards: this.boards });
  }

  /** The same operations, all joining one open transaction. */
  within(tx: Tx, orgId: string): Casebook {
    return new Casebook(boundTo(this.context, tx, orgId));
  }
}

/** The casebook over a pool of the application role. */
export function openCasebook(
  pool: Pool,
  serverSecret: Buffer,
  clock: () => Date = () => new Date(),
  options: Pick<CasebookContext, 'webhookTargets' | 'groupElsewhere'> = {},
): Casebook {
  return new Casebook({
    inTenant: (orgId, work, options) => untilStill(() => inTenant(pool, orgId, work, options)),
    clock,
    serverSecret,
    hashKeys: new Map(),
    caughtUp: new Set(),
    expectationsAsked: new Map(),
    ...options,
  });
}
