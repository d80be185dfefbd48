import {
  type DocumentNode,
  type GraphQLSchema,
  getOperationAST,
  getVariableValues,
  Kind,
  type OperationDefinitionNode,
  parse,
  print,
  separateOperations,
  validate,
} from 'graphql';
import { InvalidInput } from '#libs/casebook/index.js';
import { type Cost, costOf, DocumentTooLarge, LIMITS, requireShape } from './limits.js';

/** One operation of a document, judged once and kept. */
export interface Prepared {
  /** The operation alone with its fragments, as the executing engine keys its compiled form. */
  readonly text: string;
  readonly isChange: boolean;
  /** Name of the first field it asks for. */
  readonly field: string;
  readonly cost: (variables: Readonly<Record<string, unknown>>) => Cost;
  /** Judged here, for the executing engine answers misfits otherwise once it has compiled the text. @throws InvalidDocument */
  readonly requireVariables: (variables: Readonly<Record<string, unknown>>) => void;
}

/** A document that cannot be asked: its syntax, its types, its variables, or which of its operations was meant. */
export class InvalidDocument extends Error {
  constructor(readonly faults: readonly { readonly message: string; readonly locations?: unknown }[]) {
    super(faults[0]?.message);
  }
}

const KEPT = 1_000;
const KEPT_CHARACTERS = 20_000;

/** Parses, limits and validates documents. Those met before are not looked at again. */
export class Documents {
  private readonly kept = new Map<string, Prepared>();

  constructor(private readonly schema: () => GraphQLSchema) {}

  /** @throws InvalidDocument, DocumentTooLarge */
  prepare(source: string, operationName: string | null): Prepared {
    const key = operationName === null ? source : `${operationName}\n${source}`;
    const known = this.kept.get(key);
    if (known) return known;
    const made = this.judge(source, operationName);
    if (source.length <= KEPT_CHARACTERS) {
      if (this.kept.size >= KEPT) this.kept.delete(this.kept.keys().next().value!);
      this.kept.set(key, made);
    }
    return made;
  }

  /** Whether a text may become a trusted document: one operation that could be asked now. @throws InvalidInput, DocumentTooLarge */
  requireTrustworthy(source: string): void {
    try {
      this.prepare(source, null);
    } catch (error) {
      if (!(error instanceof InvalidDocument)) throw error;
      const code = 'graphql/invalid';
      throw new InvalidInput(error.faults.map(({ message }) => ({ pointer: '/query', code, detail: message, remedy: null })));
    }
  }

  private judge(source: string, operationName: string | null): Prepared {
    if (source.length > LIMITS.characters) throw new DocumentTooLarge('characters', source.length);
    const whole = parsed(source);
    const operations = whole.definitions.filter((one): one is OperationDefinitionNode => one.kind === Kind.OPERATION_DEFINITION);
    const operation = getOperationAST(whole, operationName);
    // All of them are held to the limits: validation looks at all of them.
    for (const one of operations) requireShape(whole, one);
    const faults = validate(this.schema(), whole, undefined, { maxErrors: 20 });
    if (faults.length > 0) throw new InvalidDocument(faults);
    if (!operation) {
      const message =
        operations.length === 0
          ? 'The document holds no operation.'
          : operationName === null
            ? 'The document holds several operations: say by operationName which one is meant.'
            : `The document holds no operation named "${operationName}".`;
      throw new InvalidDocument([{ message }]);
    }
    const document = operations.length === 1 ? whole : separateOperations(whole)[operation.name!.value]!;
    return {
      text: operations.length === 1 ? source : print(document),
      isChange: operation.operation !== 'query',
      field: firstField(operation),
      cost: costOf(document, operation, this.schema()),
      requireVariables: (variables) => {
        const { errors } = getVariableValues(this.schema(), operation.variableDefinitions ?? [], variables, { maxErrors: 20 });
        if (errors) throw new InvalidDocument(errors);
      },
    };
  }
}

const firstField = ({ selectionSet }: OperationDefinitionNode): string => {
  const [first] = selectionSet.selections;
  return first?.kind === Kind.FIELD ? first.name.value : 'fragment';
};

function parsed(source: string): DocumentNode {
  try {
    return parse(source, { maxTokens: LIMITS.tokens });
  } catch (error) {
    if (error instanceof Error && /more that \d+ tokens/.test(error.message)) throw new DocumentTooLarge('tokens', LIMITS.tokens + 1);
    throw new InvalidDocument([error as Error]);
  }
}
