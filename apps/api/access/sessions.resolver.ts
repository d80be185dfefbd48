import { Mutation, Resolver } from '@nestjs/graphql';
import { Member, NewPin } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const MemberType = objectTypeOf(Member);

/** Sessions live in cookies and have no fields here; the PINs that open them do. */
@Resolver()
export class SessionsResolver {
  @Mutation(() => MemberType)
  setPin(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(NewPin) input: NewPin) {
    return call.casebook.sessions.setPin(call.actor, id, input);
  }

  @Mutation(() => MemberType)
  removePin(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.sessions.removePin(call.actor, id);
  }
}
